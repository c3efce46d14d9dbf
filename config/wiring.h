// Where every channel and output is wired: buses, devices, registers, topics. Read by drivers/, never by
// rules/. Validated by config/load; addresses are 0-based here whatever the sheet prints.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "rules/ids.h"
#include "rules/reading.h"
#include "rules/time.h"

namespace riserkeep {

enum class RegisterTable : std::uint8_t { coil, discrete_input, input_register, holding_register };
enum class ValueType : std::uint8_t { bit, int16, uint16, int32, uint32, float32 };
enum class WordOrder : std::uint8_t { abcd, cdab, badc, dcba };  // byte order on the wire, high word first = abcd

struct ModbusTcp { std::string host; std::uint16_t port = 502; };   // numeric address
struct ModbusRtu { std::string device; int baud = 19200; char parity = 'E'; int data_bits = 8, stop_bits = 1; };
struct Mqtt {
  std::string uri;                     // mqtt://host:port or mqtts://host:port
  std::string user, password_file, ca_file;
};

struct LinkWiring {
  LinkId link;
  std::variant<ModbusTcp, ModbusRtu, Mqtt> where;
  Duration time_out = seconds(1);      // of a reply
  Duration min_gap{};                  // quiet time between requests
  Duration connect_delay{};            // between connecting and the first request
};

// Raw number -> printed unit of the channel's signal: value = raw * scale + offset; or by a current loop.
struct CurrentLoop {                   // raw * milliamp_per_count = mA; 4 mA = low, 20 mA = high (printed unit)
  double milliamp_per_count = 0.001;
  double low = 0, high = 0;
};
struct Conversion {
  double scale = 1, offset = 0;
  std::optional<CurrentLoop> loop;     // then NE 43 bands apply and scale, offset do not
  std::vector<std::int64_t> invalid;   // raw codes that mean "no value"
  std::optional<double> valid_low, valid_high;  // printed unit; outside = out_of_range
  bool inverted = false;               // contacts: 0 means active
};

struct RegisterPoint {
  ChannelId channel;
  LinkId link;
  int unit = 1;                        // 1 to 247
  RegisterTable table = RegisterTable::input_register;
  int address = 0;                     // 0-based
  std::string printed;                 // as written in the site file: "analog 30001"
  ValueType type = ValueType::uint16;
  WordOrder order = WordOrder::abcd;
  Conversion conversion;
};

struct TopicPoint {
  ChannelId channel;
  LinkId link;
  std::string topic;
  std::string value_pointer;           // JSON pointer (RFC 6901); empty: the payload is a plain number
  std::string time_pointer;            // to an RFC 3339 text or Unix seconds; empty: time of arrival, retained = stale
  Conversion conversion;
};

struct DeviceTimeOut { int register_address = 0; Duration after = seconds(20); double counts_per_second = 1; };

struct CoilOutput {
  OutputId output;
  LinkId link;
  int unit = 1;
  int coil = 0;                        // 0-based
  std::string printed;                 // "relays 1"
  std::optional<DeviceTimeOut> device_time_out;
};

struct Wiring {
  std::vector<LinkWiring> links;
  std::vector<RegisterPoint> registers;
  std::vector<TopicPoint> topics;
  std::vector<CoilOutput> coils;
  std::vector<OutputId> unwired;       // outputs without a place: fine for replay and rehearsal only
};

}  // namespace riserkeep
