// Floors and the product measured in the same run: compare the ratios, never the rates.
#include <fcntl.h>
#include <unistd.h>

#include <atomic>
#include <charconv>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <functional>
#include <random>
#include <string>

#include "daemon/formats/telemetry_csv.h"
#include "daemon/history/store.h"

using namespace riserkeep;

namespace {

constexpr std::uint16_t kChannels = 36;
constexpr std::int64_t kWall = 1'950'000'000'000;

// Six systems with six channels each.
Site room_of_six() {
  Site s;
  s.id = "bench";
  s.systems.resize(6);
  for (std::uint16_t i = 0; i < 6; ++i) {
    s.systems[i].id = "system-" + std::to_string(i);
    for (const Signal g : {Signal::pressure, Signal::temperature, Signal::oxygen, Signal::low_air, Signal::waterflow, Signal::water_pressure}) {
      Channel c;
      c.place = SystemId{i};
      c.signal = g;
      s.channels.push_back(c);
    }
  }
  return s;
}

// Noisy transducers, steady contacts, times that jitter by some milliseconds.
class Load {
 public:
  explicit Load(const Site& site) : site_(site) {}
  Reading reading(std::uint16_t c, std::int64_t ms) {
    const Signal g = site_.channels[c].signal;
    std::int64_t ticks = 0;
    if (!info_of(g).contact) ticks = 20'000 + c * 500 - ms / 100'000 + static_cast<std::int64_t>(random_() % (g == Signal::pressure ? 21 : 5));
    return {ChannelId{c}, EngineTime{Duration{ms + static_cast<std::int64_t>(random_() % 9)}}, ticks, Quality::good, Why::none};
  }

 private:
  const Site& site_;
  std::mt19937_64 random_{1};
};

double seconds_of(const std::function<void()>& work) {
  const auto from = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count();
}

// The least a reader of such a file does: lines, and the numbers in them.
std::uint64_t plain_read(const std::string& file) {
  std::ifstream in{file};
  std::uint64_t lines = 0;
  double sum = 0;
  for (std::string line; std::getline(in, line); ++lines) {
    std::size_t at = 0;
    for (int comma = 0; comma < 3 && at != std::string::npos; ++comma) at = line.find(',', at) + 1;
    double v = 0;
    std::from_chars(line.data() + at, line.data() + line.size(), v);
    sum += v;
  }
  std::printf("  (mean value %.3f)\n", sum / static_cast<double>(lines));  // so that the numbers are really read
  return lines;
}

void bench_reader(const Site& site, const std::string& file) {
  constexpr int kDays = 7;
  {
    std::ofstream out{file};
    Load load{site};
    out << kTelemetryHeader << '\n';
    for (std::int64_t ms = 0; ms < kDays * 86'400'000LL; ms += 10'000)
      for (std::uint16_t c = 0; c < kChannels; ++c) out << telemetry_row(site, WallTime{kWall + ms}, load.reading(c, kWall + ms)) << '\n';
  }
  std::uint64_t rows = 0;
  const double plain = seconds_of([&] { rows = plain_read(file); });
  std::uint64_t read = 0;
  const double ours = seconds_of([&] {
    const int fd = ::open(file.c_str(), O_RDONLY | O_CLOEXEC);
    TelemetryReader reader{source_of_fd(fd), site};
    while (reader.next()) ++read;
    ::close(fd);
    if (reader.error()) std::printf("  error: %s\n", reader.error()->c_str());
  });
  std::printf("telemetry reader: %llu rows, %.2f s, %.1f M rows/s; getline + from_chars %.2f s, ratio %.2f\n",
              static_cast<unsigned long long>(read), ours, static_cast<double>(read) / ours / 1e6, plain, ours / plain);
  if (read + 1 != rows) std::printf("  rows differ: %llu lines\n", static_cast<unsigned long long>(rows));
}

std::uint64_t bytes_written() {
  std::ifstream io{"/proc/self/io"};
  for (std::string key; io >> key;) {
    std::uint64_t v = 0;
    io >> v;
    if (key == "write_bytes:") return v;
  }
  return 0;
}

// One simulated day: a commit for each ten seconds, a snapshot each hour, a thousand events.
void bench_store(const Site& site, const std::filesystem::path& dir) {
  StoreOptions options;
  options.commit_every = hours(1);
  const std::uint64_t before = bytes_written();
  Store store{dir, site, "bench", nullptr, options};
  store.restore();
  Load load{site};
  std::uint64_t seq = 0;
  const double took = seconds_of([&] {
    for (std::int64_t ms = 0; ms < 86'400'000 + 20'000; ms += 10'000) {
      for (std::uint16_t c = 0; c < kChannels; ++c) {
        const Reading r = load.reading(c, ms);
        std::vector<JournalEvent> events;
        if (c == 0 && ms % 90'000 == 0) events.push_back(journal_event(site, store.next_event_seq(), std::nullopt, r.measured, Note{SystemId{0}, "a line of a hundred characters or so, as an alarm or a vent event has them on the average day of a site"}));
        store.append({Seq{++seq}, EngineTime{Duration{ms + 20}}, r}, std::move(events));
      }
      if (ms % 3'600'000 == 0) store.snapshot(std::string(20'000, 's'), Seq{seq});
      std::atomic<bool> done{false};
      store.barrier([&](bool) { done = true; done.notify_one(); });
      done.wait(false);
    }
  });
  store.stop();
  const auto kib = [&](const char* name) { return static_cast<double>(std::filesystem::file_size(dir / name)) / 1024.0; };
  std::printf("a day of 36 channels at 10 s: history.db %.0f KiB, journal.db %.0f KiB, %.0f MB to the device, %.2f ms a commit\n",
              kib("history.db"), kib("journal.db"), static_cast<double>(bytes_written() - before) / 1e6, took / 8642.0 * 1e3);
}

}  // namespace

int main() {
  std::string name = (std::filesystem::temp_directory_path() / "riserkeep-bench-XXXXXX").string();
  if (!::mkdtemp(name.data())) return 1;
  const Site site = room_of_six();
  bench_reader(site, name + "/telemetry.csv");
  bench_store(site, std::filesystem::path{name} / "state");
  std::filesystem::remove_all(name);
  return 0;
}
