// What the parts of the loader share while a description is being built.
#pragma once

#include <string>
#include <vector>

#include "config/load/load.h"
#include "config/load/section.h"
#include "config/load/units.h"

namespace riserkeep {

// How a raw number is read and becomes a value; a device gives defaults, a point may differ.
struct PointForm {
  std::optional<RegisterTable> table;
  std::optional<ValueType> type;
  WordOrder order = WordOrder::abcd;
  bool loop = false;                                // signal: 4-20 mA
  std::optional<Field> span, scale, offset, valid;  // read once the signal's quantity is known
  bool own_span = false, own_scale = false;         // given at the point, not at the device
  std::optional<std::pair<double, double>> counts;  // raw at 4 and 20 mA
  std::vector<std::int64_t> invalid;
  bool inverted = false;
  std::optional<Duration> poll, stale_after;
};

struct DeviceEntry {
  std::string key;
  LinkId link;
  int unit = 1;
  PointForm form;
  std::optional<DeviceTimeOut> time_out;
};

struct Build {
  Problems& problems;
  Purpose purpose;
  Description d{};
  std::vector<std::string> link_keys{}, analyser_keys{}, system_keys{};  // in the order of their ids
  std::vector<std::string> room_keys{}, supply_keys{};                   // empty text: the one without a key
  std::vector<DeviceEntry> devices{};
  bool has_links = false;
  std::vector<Mark> channel_marks{}, output_marks{};  // by id, for cross checks
  std::vector<std::string> channel_paths{}, output_paths{};
  std::vector<Field> system_fields{};    // by id
  std::vector<bool> system_read_well{};  // by id: no error inside it

  bool needs_wires() const { return purpose == Purpose::run; }
  bool wires_optional() const { return purpose == Purpose::replay || purpose == Purpose::rehearse; }
};

// "Loading dock" -> "loading-dock"; letters, digits and dashes only.
std::string slug(std::string_view name);

template <class T>
T id_at(std::size_t index) {
  return T{static_cast<std::uint16_t>(index)};
}

}  // namespace riserkeep
