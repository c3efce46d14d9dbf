// The Modbus devices of the simulated room: which unit holds what, and its answers, without any socket.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "config/wiring.h"
#include "drivers/plant/relays.h"
#include "drivers/plant/room.h"
#include "rules/site.h"

namespace riserkeep::plant {

using Bytes = std::vector<std::uint8_t>;

class Devices {
 public:
  // Points and coils of all links that are buses; the references must outlive this.
  Devices(SimulatedRoom&, const Wiring&, const Site&);

  // Answer (function code and data) to a request of 1 to 253 bytes; nullopt: this unit does not answer.
  // `at`: real time, for the watchdogs of the relay units.
  std::optional<Bytes> answer(int unit, std::span<const std::uint8_t> request, EngineTime at);
  void drop_idle_relays(EngineTime at);

  std::vector<int> units() const;
  const std::vector<std::string>& conflicts() const { return conflicts_; }  // two points in one place, in words

 private:
  struct Slot {
    const RegisterPoint* point;
    int word;  // of the point's one or two
  };
  struct Unit {
    LinkId link;
    std::array<std::map<int, Slot>, 4> tables;  // by RegisterTable
    std::map<int, OutputId> coils;
    std::optional<DeviceTimeOut> time_out;
    RelayWatchdog watchdog;
  };

  Unit& unit_at(int unit, LinkId);
  void place(const RegisterPoint&);
  void place(const CoilOutput&, const Site&);
  Bytes dispatch(Unit&, std::span<const std::uint8_t> request);
  Bytes read_bits(const Unit&, RegisterTable, std::span<const std::uint8_t> request) const;
  Bytes read_words(const Unit&, RegisterTable, std::span<const std::uint8_t> request) const;
  Bytes write_coils(Unit&, std::span<const std::uint8_t> request);
  Bytes write_words(Unit&, std::span<const std::uint8_t> request);
  bool exists(const Unit&, RegisterTable, int first, int count) const;
  bool bit_at(const Unit&, RegisterTable, int address) const;
  std::uint16_t word_at(const Unit&, RegisterTable, int address) const;
  // A coil without current is the safe state: vent and port shut, a supply valve open.
  bool safe_state(OutputId id) const { return kinds_[id.index] == OutputKind::supply_valve; }

  SimulatedRoom& room_;
  std::vector<OutputKind> kinds_;
  std::map<int, Unit> units_;
  std::vector<std::string> conflicts_;
};

}  // namespace riserkeep::plant
