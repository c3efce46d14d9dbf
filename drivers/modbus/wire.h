// One libmodbus context: bounded calls, errors sorted by what must be done next, and no recovery by the
// library itself (its link recovery keeps a call blocked while the peer is away).
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>

#include "config/wiring.h"

struct _modbus;                      // libmodbus's modbus_t

namespace riserkeep {

enum class Trouble : std::uint8_t {
  none,
  refused,   // the device answered with an exception; the link is in step
  lost,      // no answer in time, or not a good one: a late one may still come
  broken,    // the link itself is gone
};

struct Answer {
  Trouble trouble = Trouble::none;
  int exception = 0;                 // Modbus exception code when refused
  std::string text;                  // for people, when there is trouble
};

class Wire {
 public:
  explicit Wire(const LinkWiring& wiring);
  ~Wire();
  Wire(const Wire&) = delete;
  Wire& operator=(const Wire&) = delete;

  bool serial() const;               // no transaction ids: see Resync in plan.h
  bool connected() const { return connected_; }
  std::optional<std::string> connect();  // nothing = connected; else what is wrong and how to mend it
  void close();

  // `out` has one element per register, or per bit (0 or 1).
  Answer read(int unit, RegisterTable table, int address, std::span<std::uint16_t> out);
  Answer write_coil(int unit, int address, bool on);
  Answer write_register(int unit, int address, std::uint16_t value);
  void discard_input();              // waits for 3.5 characters of silence, then throws away what came in

 private:
  Answer prepare(int unit);
  Answer finish(int result, int wanted);
  std::optional<std::string> lock_port() const;

  LinkWiring wiring_;
  struct Free { void operator()(_modbus*) const; };
  std::unique_ptr<_modbus, Free> context_;
  bool connected_ = false;
};

}  // namespace riserkeep
