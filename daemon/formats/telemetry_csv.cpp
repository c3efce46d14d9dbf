#include "daemon/formats/telemetry_csv.h"

#include <fmt/format.h>

#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <set>
#include <unordered_map>

#include "daemon/formats/csv_lines.h"
#include "daemon/formats/rfc3339.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

constexpr std::int64_t kSortWithinMs = 1000;
constexpr std::size_t kSortRows = 65'536;  // more rows than this inside one second come out as they came in
constexpr std::size_t kMostNotes = 100;
constexpr std::size_t kMostKeys = 4096;

// What "point,signal" means on this site.
struct Target {
  enum class Kind : std::uint8_t { unknown, reading, vent_command, output } kind = Kind::unknown;
  ChannelId channel;
  OutputId output;
  int decimals = 0;
};

std::optional<OutputId> find_output(const Site& site, PlaceId place, OutputKind kind) {
  for (std::size_t i = 0; i < site.outputs.size(); ++i)
    if (site.outputs[i].kind == kind && site.outputs[i].place == place) return OutputId{static_cast<std::uint16_t>(i)};
  return std::nullopt;
}

Target target_of(const Site& site, std::string_view point, std::string_view signal) {
  const auto place = find_place(site, point);
  if (!place) return {};
  if (const auto c = find_channel(site, *place, signal))
    return {Target::Kind::reading, *c, {}, info_of(site[*c].signal).decimals};
  const bool port = signal == "sample_port";
  if (!port && signal != "vent_open" && signal != "vent_command") return {};
  const auto o = find_output(site, *place, port ? OutputKind::sample_port : OutputKind::vent);
  if (!o) return {};
  return {signal == "vent_command" ? Target::Kind::vent_command : Target::Kind::output, {}, *o, 0};
}

std::optional<Quality> quality_of(std::string_view s) {
  if (s == "good") return Quality::good;
  if (s == "bad") return Quality::bad;
  if (s == "uncertain") return Quality::uncertain;
  return std::nullopt;
}

}  // namespace

struct TelemetryReader::Parts {
  Parts(Source source, const Site& s, std::string n) : lines(std::move(source)), site(s), name(std::move(n)) {}

  // `next`: what followed it last time. Files cycle through their channels, so that is nearly always right.
  struct Known { std::string key; Target target; std::size_t next; };
  struct Hash {
    using is_transparent = void;
    std::size_t operator()(std::string_view s) const { return std::hash<std::string_view>{}(s); }
  };

  CsvLines lines;
  const Site& site;
  std::string name;
  std::optional<std::string> error;
  std::vector<std::string> notes;
  std::vector<Known> known;
  std::unordered_map<std::string, std::size_t, Hash, std::equal_to<>> index;
  std::size_t last = 0;
  std::set<std::uint16_t> position_seen;    // outputs with vent_open rows: their vent_command rows say less
  std::string time_text;
  WallTime time{};
  std::vector<TelemetryRow> sorted;         // from `first` on; oldest first
  std::size_t first = 0;
  std::int64_t newest = INT64_MIN / 2, handed_out = INT64_MIN / 2;
  bool header_read = false, ended = false;

  void fail(std::string what) {
    error = fmt::format("{}:{}: {}", name, lines.number(), what);
    ended = true;
  }
  void note(std::string what) {
    if (notes.size() < kMostNotes) notes.push_back(fmt::format("{}:{}: {}", name, lines.number(), std::move(what)));
  }

  const Target& look_up(std::string_view key, std::string_view point, std::string_view signal) {
    if (!known.empty()) {
      const std::size_t guess = known[last].next;
      if (known[guess].key == key) return known[last = guess].target;
    }
    const auto found = index.find(key);
    const std::size_t i = found != index.end() ? found->second : learn(key, point, signal);
    known[last].next = i;
    return known[last = i].target;
  }
  std::size_t learn(std::string_view key, std::string_view point, std::string_view signal) {
    const Target t = target_of(site, point, signal);
    if (t.kind == Target::Kind::unknown)
      note(fmt::format("the site file knows no '{}' at point '{}': its rows are left out", printable(signal),
                       printable(point)));
    if (known.size() >= kMostKeys) forget();
    known.push_back({std::string{key}, t, 0});
    index.emplace(key, known.size() - 1);
    return known.size() - 1;
  }
  void forget() {
    known.clear();
    index.clear();
    last = 0;
  }

  bool read_time(std::string_view text) {
    if (text == time_text) return true;
    const auto t = parse_rfc3339(text);
    if (!t) {
      fail(fmt::format("'{}' is no time; write it as 2031-10-13T01:00:00.000Z (RFC 3339)", printable(text)));
      return false;
    }
    time_text = text;
    time = *t;
    return true;
  }

  void read_header() {
    header_read = true;
    const auto line = lines.next();
    if (!line) {
      if (lines.trouble().empty()) fail(fmt::format("empty; the first line must be '{}'", kTelemetryHeader));
      else fail(std::string{lines.trouble()});
    } else if (*line != kTelemetryHeader) {
      fail(fmt::format("the first line is '{}'; it must be '{}'", printable(*line), kTelemetryHeader));
    }
  }

  bool read_row() {
    const auto line = lines.next();
    if (!line) {
      if (!lines.trouble().empty()) fail(std::string{lines.trouble()});
      ended = true;
      return false;
    }
    if (line->empty() || fast_row(*line)) return true;
    std::array<std::string_view, 5> f;
    const std::size_t n = lines.split(*line, f);
    if (n != f.size()) {
      if (lines.last_is_cut()) fail(cut(line->size()));
      else fail(fmt::format("{} columns where there must be 5 ({})", n, kTelemetryHeader));
      return false;
    }
    return take_row(*line, f);
  }

  // Nearly every row: the time of the row before, the channel that always follows the last one, a plain value.
  // Anything else is left to the careful way, which also finds the words for what is wrong.
  bool fast_row(std::string_view line) {
    const auto take = [&line](std::string_view expected) {
      if (!line.starts_with(expected) || line.size() <= expected.size() || line[expected.size()] != ',') return false;
      line.remove_prefix(expected.size() + 1);
      return true;
    };
    if (known.empty() || time_text.empty() || !take(time_text)) return false;
    const std::size_t guess = known[last].next;
    const Target& target = known[guess].target;
    if (target.kind != Target::Kind::reading || !take(known[guess].key)) return false;
    const std::size_t comma = line.find(',');
    if (comma == std::string_view::npos || comma == 0 || line.substr(comma + 1) != "good") return false;
    const auto ticks = parse_ticks(line.substr(0, comma), target.decimals);
    if (!ticks || time.ms < newest) return false;
    newest = time.ms;
    last = guess;
    store(target, ticks, Quality::good);
    return true;
  }

  static std::string cut(std::size_t n) {
    return fmt::format("the last line is cut off after {} characters; all before it was read. "
                       "Copy the file again, or delete this line", n);
  }

  bool take_row(std::string_view line, const std::array<std::string_view, 5>& f) {
    const auto quality = quality_of(f[4]);
    if (!quality) {
      if (lines.last_is_cut()) fail(cut(line.size()));
      else fail(fmt::format("quality '{}' must be good, uncertain or bad", printable(f[4])));
      return false;
    }
    if (!read_time(f[0])) return false;
    const bool adjacent = f[1].data() + f[1].size() + 1 == f[2].data();
    std::string joined;
    if (!adjacent) joined = fmt::format("{},{}", f[1], f[2]);
    const std::string_view key = adjacent ? std::string_view{f[1].data(), f[1].size() + 1 + f[2].size()} : joined;
    const Target target = look_up(key, f[1], f[2]);
    if (target.kind == Target::Kind::unknown) return in_order();
    std::optional<std::int64_t> ticks;
    if (!f[3].empty()) {
      ticks = parse_ticks(f[3], target.decimals);
      if (!ticks) {
        fail(fmt::format("value '{}' is no number; write it with a decimal point, as 38.125", printable(f[3])));
        return false;
      }
    } else if (*quality != Quality::bad) {
      fail(fmt::format("no value, yet quality {}; nothing read is quality bad", f[4]));
      return false;
    }
    return in_order() && (store(target, ticks, *quality), true);
  }

  bool in_order() {
    if (time.ms < newest - kSortWithinMs || time.ms < handed_out) {
      fail(fmt::format("its time {} is {:.3f} s before that of a row above; sort the rows by time",
                       rfc3339(time), static_cast<double>(newest - time.ms) / 1000.0));
      return false;
    }
    newest = std::max(newest, time.ms);
    return true;
  }

  void store(const Target& t, std::optional<std::int64_t> ticks, Quality q) {
    if (t.kind == Target::Kind::reading) {
      const Why why = ticks ? Why::none : Why::no_value;
      insert({time, Reading{t.channel, EngineTime{Duration{time.ms}}, ticks, q, why}});
      return;
    }
    if (t.kind == Target::Kind::vent_command && position_seen.count(t.output.index)) return;
    if (t.kind == Target::Kind::output) position_seen.insert(t.output.index);
    OutputState state = OutputState::unknown;
    if (ticks && q != Quality::bad) state = *ticks ? OutputState::open : OutputState::shut;
    insert({time, OutputObserved{t.output, OrderNo{}, OutputOutcome::found, state}});
  }

  void insert(TelemetryRow row) {
    auto at = sorted.end();
    while (at != sorted.begin() + static_cast<std::ptrdiff_t>(first) && std::prev(at)->time > row.time) --at;
    sorted.insert(at, row);
  }

  bool ready() const {
    if (first == sorted.size()) return false;
    return ended || sorted[first].time.ms < newest - kSortWithinMs || sorted.size() - first > kSortRows;
  }

  TelemetryRow hand_out() {
    const TelemetryRow row = sorted[first++];
    handed_out = row.time.ms;
    if (first > 4096 && first * 2 > sorted.size()) {
      sorted.erase(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(first));
      first = 0;
    }
    return row;
  }
};

TelemetryReader::TelemetryReader(Source source, const Site& site, std::string name)
    : parts_(std::make_unique<Parts>(std::move(source), site, std::move(name))) {}
TelemetryReader::~TelemetryReader() = default;

std::optional<TelemetryRow> TelemetryReader::next() {
  Parts& p = *parts_;
  if (!p.header_read) p.read_header();
  while (!p.ready()) {
    if (p.ended) return std::nullopt;
    p.read_row();
  }
  return p.hand_out();
}

const std::optional<std::string>& TelemetryReader::error() const { return parts_->error; }
const std::vector<std::string>& TelemetryReader::notes() const { return parts_->notes; }
std::uint64_t TelemetryReader::lines() const { return parts_->lines.number(); }

TelemetryReader::Source source_of_fd(int fd) {
  return [fd](char* into, std::size_t room) -> std::size_t {
    for (;;) {
      const ssize_t n = ::read(fd, into, room);
      if (n >= 0) return static_cast<std::size_t>(n);
      if (errno != EINTR) return 0;
    }
  };
}

std::string telemetry_row(WallTime t, std::string_view point, std::string_view signal, int decimals,
                          std::optional<std::int64_t> ticks, Quality q) {
  return fmt::format("{},{},{},{},{}", rfc3339(t), point, signal, ticks ? ticks_text(*ticks, decimals) : "", word(q));
}

std::string telemetry_row(const Site& site, WallTime t, const Reading& r) {
  const Channel& c = site[r.channel];
  return telemetry_row(t, place_id(site, c.place), signal_word(c), info_of(c.signal).decimals, r.ticks, r.quality);
}

}  // namespace riserkeep
