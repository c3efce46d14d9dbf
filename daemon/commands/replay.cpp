#include "daemon/commands/replay.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstring>

#include "config/load/load.h"
#include "daemon/formats/event_json.h"
#include "daemon/formats/input_log.h"
#include "daemon/formats/sha256.h"
#include "daemon/formats/telemetry_csv.h"
#include "daemon/rehearsal/intervals.h"
#include "daemon/rehearsal/recordable.h"
#include "rules/engine.h"

namespace riserkeep {
namespace {

using Source = std::function<std::size_t(char*, std::size_t)>;

// The recording, with its first bytes looked at and put back.
class Recording {
 public:
  explicit Recording(const std::string& name) : fd_(name == "-" ? STDIN_FILENO : open(name.c_str(), O_RDONLY | O_CLOEXEC)) {
    if (fd_ < 0) return;
    read_ = source_of_fd(fd_);
    head_.resize(4096);
    head_.resize(read_(head_.data(), head_.size()));
  }
  ~Recording() { if (fd_ > STDIN_FILENO) close(fd_); }
  Recording(const Recording&) = delete;
  Recording& operator=(const Recording&) = delete;

  bool is_open() const { return fd_ >= 0; }
  bool is_input_log() const { return looks_like_input_log(head_); }
  Source source() {
    return [this](char* into, std::size_t room) {
      if (taken_ == head_.size()) return read_(into, room);
      const std::size_t n = std::min(room, head_.size() - taken_);
      std::memcpy(into, head_.data() + taken_, n);
      taken_ += n;
      return n;
    };
  }

 private:
  int fd_;
  Source read_;
  std::string head_;
  std::size_t taken_ = 0;
};

// Steps the engine and prints what it says.
class Printer {
 public:
  Printer(Engine& engine, std::uint64_t first_seq) : engine_(engine), seq_(first_seq) {}

  void step(const Stamped& s) {
    effects_.clear();
    engine_.step(s, effects_);
    for (const Timed& t : effects_) {
      if (!is_event(t.effect)) continue;
      const auto wall = engine_.wall_known() ? std::optional{engine_.wall(t.at)} : std::nullopt;
      const std::string line = event_json(engine_.site(), seq_++, wall, t.at, t.effect) + '\n';
      std::fwrite(line.data(), 1, line.size(), stdout);
    }
  }

 private:
  Engine& engine_;
  Effects effects_;
  std::uint64_t seq_;
};

int finish(const std::optional<std::string>& error) {
  if (error) fmt::print(stderr, "{}\n", *error);
  if (std::fflush(stdout) != 0 || std::ferror(stdout)) {
    fmt::print(stderr, "replay: standard output: {}\n", std::strerror(errno));
    return 1;
  }
  return error ? 1 : 0;
}

int replay_inputs(const Description& d, Source source, const std::string& name) {
  InputLogReader reader(std::move(source), d.site, name);
  if (!reader.header()) return finish(reader.error());
  const InputLogHeader& header = *reader.header();
  if (header.config_sha256 != sha256_hex(d.text))
    fmt::print(stderr, "{}: recorded with another site file than {}: this replay is open loop, a vent it would have "
                       "opened changes nothing\n", name, d.file);
  Engine engine(d.site, d.rules);
  if (header.snapshot) {
    Archive saved = Archive::loading(*header.snapshot);
    engine.keep(saved);
  }
  Printer printer(engine, header.first_event_seq);
  while (const auto stamped = reader.next()) printer.step(*stamped);
  return finish(reader.error());
}

Stamped stamped(std::uint64_t seq, const TelemetryRow& row) {
  const EngineTime at{milliseconds{row.time.ms}};
  if (const auto* reading = std::get_if<Reading>(&row.what)) return {Seq{seq}, at, *reading};
  return {Seq{seq}, at, std::get<OutputObserved>(row.what)};
}

int replay_telemetry(Description d, Source source, const std::string& name) {
  add_recordable_channels(d.site);
  TelemetryReader reader(std::move(source), d.site, name);
  UsualIntervals intervals(d.site.channels.size());
  std::vector<TelemetryRow> first;   // enough to tell the usual interval of every channel
  while (first.size() < 20'000) {
    auto row = reader.next();
    if (!row) break;
    if (const auto* reading = std::get_if<Reading>(&row->what)) intervals.add(*reading);
    first.push_back(std::move(*row));
  }
  intervals.apply(d.site);
  Engine engine(std::move(d.site), std::move(d.rules));
  Printer printer(engine, 1);
  std::uint64_t seq = 0;
  if (!first.empty()) printer.step({Seq{++seq}, EngineTime{milliseconds{first.front().time.ms}}, WallMapped{0, true}});
  for (const TelemetryRow& row : first) printer.step(stamped(++seq, row));
  first = {};
  while (const auto row = reader.next()) printer.step(stamped(++seq, *row));
  for (const std::string& note : reader.notes()) fmt::print(stderr, "{}\n", note);
  return finish(reader.error());
}

}  // namespace

int replay_command(const std::string& site_file, const std::string& recording) {
  Loaded loaded = load_site_file(site_file, Purpose::replay);
  for (const Problem& p : loaded.problems) fmt::print(stderr, "{}\n", format_problem(p));
  if (!loaded.description) return 2;
  Recording input(recording);
  if (!input.is_open()) {
    fmt::print(stderr, "{}: {}. Give a telemetry CSV, an input log, or - for standard input.\n", recording, std::strerror(errno));
    return 1;
  }
  return input.is_input_log() ? replay_inputs(*loaded.description, input.source(), recording)
                              : replay_telemetry(std::move(*loaded.description), input.source(), recording);
}

}  // namespace riserkeep
