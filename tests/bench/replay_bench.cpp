// 36 channels x 7 days at 10 s through `riserkeep replay`, as a ratio to reading and parsing the same file.
//   replay_bench RISERKEEP SITE.yaml [DAYS]
// The recording is invented and written to a temporary folder.
#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <charconv>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include "daemon/formats/rfc3339.h"

namespace {

using Seconds = std::chrono::duration<double>;
constexpr std::array kSystems{"bay-one", "bay-two", "bay-three", "bay-four", "bay-five", "bay-six"};
constexpr std::int64_t kStart = 1'793'602'800'000;

struct Pipe {
  double psi = 38, leak_per_step;
  bool filling = false;
  void step() {
    psi += filling ? 0.35 : -leak_per_step;
    if (psi < 35) filling = true;
    if (psi > 40) filling = false;
  }
};

std::uint64_t write_recording(const std::string& path, int days) {
  std::FILE* out = std::fopen(path.c_str(), "w");
  if (!out) { std::perror(path.c_str()); std::exit(1); }
  std::fputs("time,point,signal,value,quality\n", out);
  std::array<Pipe, kSystems.size()> pipes;
  for (std::size_t i = 0; i < pipes.size(); ++i) pipes[i].leak_per_step = 0.0001 * static_cast<double>(i + 1);
  std::uint64_t rows = 0;
  for (int step = 0; step < days * 8640; ++step) {
    const std::string time = riserkeep::rfc3339({kStart + step * 10'000LL});
    const double day = step / 8640.0, warm = 18 + 4 * std::sin(2 * 3.14159265 * day);
    for (std::size_t i = 0; i < pipes.size(); ++i) {
      pipes[i].step();
      const double psi = pipes[i].psi + (warm - 18) * 0.18 + 0.02 * std::sin(step * 12.9898 + static_cast<double>(i));
      std::fprintf(out, "%s,%s,pressure,%.3f,good\n%s,%s,temperature,%.2f,good\n%s,%s,oxygen,%.3f,good\n"
                        "%s,%s,low_air,0,good\n%s,%s,waterflow,0,good\n%s,%s,vent_open,0,good\n",
                   time.c_str(), kSystems[i], psi, time.c_str(), kSystems[i], warm, time.c_str(), kSystems[i], 1.5 + 0.1 * std::sin(day),
                   time.c_str(), kSystems[i], time.c_str(), kSystems[i], time.c_str(), kSystems[i]);
      rows += 6;
    }
  }
  std::fclose(out);
  return rows;
}

double floor_seconds(const std::string& path) {
  const auto begin = std::chrono::steady_clock::now();
  std::ifstream in(path);
  std::string line;
  double sum = 0;
  while (std::getline(in, line)) {
    std::size_t at = 0;
    for (int comma = 0; comma < 3 && at != std::string::npos; ++comma) at = line.find(',', at + 1);
    if (at == std::string::npos) continue;
    double v = 0;
    std::from_chars(line.data() + at + 1, line.data() + line.size(), v);
    sum += v;
  }
  const Seconds took = std::chrono::steady_clock::now() - begin;
  std::printf("floor: read and parse %.2f s (sum %.0f)\n", took.count(), sum);
  return took.count();
}

struct Run { double seconds; long max_rss_kib; int status; };

Run replay(const std::string& program, const std::string& site, const std::string& path) {
  const auto begin = std::chrono::steady_clock::now();
  const pid_t pid = fork();
  if (pid == 0) {
    const int null = open("/dev/null", O_WRONLY);
    dup2(null, STDOUT_FILENO);
    execl(program.c_str(), program.c_str(), "replay", site.c_str(), path.c_str(), nullptr);
    _exit(127);
  }
  int status = 0;
  rusage use{};
  wait4(pid, &status, 0, &use);
  return {Seconds(std::chrono::steady_clock::now() - begin).count(), use.ru_maxrss, WEXITSTATUS(status)};
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 3) {
    std::fputs("usage: replay_bench RISERKEEP SITE.yaml [DAYS]\n", stderr);
    return 2;
  }
  const std::string path = (std::filesystem::temp_directory_path() / ("riserkeep-bench-" + std::to_string(getpid()) + ".csv")).string();
  const std::uint64_t rows = write_recording(path, argc > 3 ? std::atoi(argv[3]) : 7);
  const double floor = floor_seconds(path);
  const Run run = replay(argv[1], argv[2], path);
  std::printf("replay: %llu readings in %.2f s, %.1f times the floor, %.1f MiB resident, exit %d\n", static_cast<unsigned long long>(rows),
              run.seconds, run.seconds / floor, static_cast<double>(run.max_rss_kib) / 1024.0, run.status);
  std::filesystem::remove(path);
  return run.status;
}
