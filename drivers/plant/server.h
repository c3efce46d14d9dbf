// The simulated room as Modbus TCP devices: every unit of the wiring answers on one port, told apart by its
// unit id. Functions 1 to 6, 15, 16; exceptions 1, 2, 3 and 11. Values are encoded as the wiring decodes them.
#pragma once

#include <atomic>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "config/wiring.h"
#include "drivers/plant/room.h"
#include "rules/site.h"

namespace riserkeep {

class PlantServer {
 public:
  // Listens on loopback; port 0 = any free one. Throws std::system_error (EADDRINUSE: port in use).
  // The room advances in real time times time_scale (> 0). References must outlive the server.
  PlantServer(SimulatedRoom&, const Wiring&, const Site&, int port, double time_scale = 1.0);
  ~PlantServer();
  PlantServer(const PlantServer&) = delete;
  PlantServer& operator=(const PlantServer&) = delete;

  int port() const;
  std::vector<std::string> conflicts() const;  // points of the wiring that cannot both be served, in words
  void step(Duration longest_wait);            // waits for requests, answers them, advances the room, drops idle relays
  void run(const std::atomic<bool>& stop);     // steps of 20 ms until stop is set

  // "help", "fault roof-void leak 12", "clear roof-void leak", "clear all", "reset roof-void", "truth". Safe from
  // any thread while another one runs. The answer ends without a new line.
  std::string command(const std::string& line);

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};

}  // namespace riserkeep
