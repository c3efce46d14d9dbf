#include "daemon/runtime/publisher.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <utility>

namespace riserkeep {
namespace {

constexpr std::size_t kRemembered = 2000;
constexpr Duration kSayAgain = minutes(1);

}  // namespace

Publisher::Publisher(const Site& site, std::FILE* lines, Send send)
    : site_(site), lines_(lines), send_(std::move(send)), changed_(site.systems.size(), true) {}

void Publisher::event(const JournalEvent& e, bool stored) {
  std::string json = e.json;
  if (!stored && json.ends_with('}')) {
    json.pop_back();
    json += ", \"stored\": false}";
  }
  print(json);
  if (send_) send_("events", json, false, 1);
  if (const auto system = find_system(site_, e.point)) changed_[system->index] = true;
  newest_.push_back({e.seq, std::move(json)});
  if (newest_.size() > kRemembered) newest_.pop_front();
}

void Publisher::print(const std::string& line) {
  if (!lines_) return;
  if (std::fwrite(line.data(), 1, line.size(), lines_) == line.size() && std::fputc('\n', lines_) != EOF &&
      std::fflush(lines_) == 0)
    return;
  spdlog::warn("events no longer go to standard output: {}. Everything else goes on.", std::strerror(errno));
  lines_ = nullptr;
}

void Publisher::refresh(const SiteView& view, WallOffset offset, const std::vector<LinkNote>& notes) {
  if (!send_) return;
  const bool all = !all_sent_ || view.now - *all_sent_ >= kSayAgain;
  for (std::size_t i = 0; i < changed_.size(); ++i) {
    if (!all && !changed_[i]) continue;
    const SystemId system{static_cast<std::uint16_t>(i)};
    send_("systems/" + site_[system].id, system_json(view, system, offset), true, 1);
    changed_[i] = false;
  }
  if (!all) return;
  all_sent_ = view.now;
  send_("box", box_json(view, offset, notes), true, 1);
}

std::string Publisher::events_after(std::uint64_t seq) const {
  std::string out = "{\"events\": [";
  bool first = true;
  for (const auto& kept : newest_) {
    if (kept.seq <= seq) continue;
    if (!std::exchange(first, false)) out += ",\n";
    out += kept.json;
  }
  return out + fmt::format("], \"newest\": {}}}\n", newest_.empty() ? 0 : newest_.back().seq);
}

}  // namespace riserkeep
