#include "config/load/people.h"

#include <charconv>

#include <fmt/format.h>

namespace riserkeep {

namespace {

bool is_address(const std::string& a) {
  const auto at = a.find('@');
  return at != std::string::npos && at > 0 && at + 1 < a.size() && a.find('@', at + 1) == std::string::npos &&
         a.find_first_of(" \t\r\n<>,;\"") == std::string::npos;
}

// "weekdays 07:00", "daily 07:00"
std::optional<DayTime> parse_when(const std::string& text) {
  const auto space = text.find(' ');
  const std::string days = text.substr(0, space);
  if (space == std::string::npos || (days != "weekdays" && days != "daily") || text.size() != space + 6 ||
      text[space + 3] != ':')
    return std::nullopt;
  int hour = -1, minute = -1;
  const char* p = text.data() + space + 1;
  const auto h = std::from_chars(p, p + 2, hour);
  const auto m = std::from_chars(p + 3, p + 5, minute);
  if (h.ptr != p + 2 || m.ptr != p + 5 || hour < 0 || hour > 23 || minute < 0 || minute > 59) return std::nullopt;
  const bool weekdays = days == "weekdays";
  return DayTime{static_cast<std::uint8_t>(weekdays ? 0x1f : 0x7f), !weekdays, hour * 60 + minute};
}

}  // namespace

void read_people(Build& b, const std::optional<Field>& f) {
  if (!f) {
    if (b.purpose == Purpose::run || b.purpose == Purpose::check)
      b.problems.warn({}, "people", "nobody is named who would be told",
                      "add people: {night: {mail: night@example.org, for: call now}}");
    return;
  }
  if (!f->is_map()) {
    f->error("a map is expected here", "write it like night: {mail: night@example.org, for: call now}");
    return;
  }
  for (const Entry& e : f->node->entries) {
    const Field pf = f->of(e);
    Section s(pf, "{mail: night@example.org, for: call now}");
    Person p;
    p.id = slug(e.key);
    const auto mail = s.get("mail");
    const auto sms = s.get("sms_by_mail");
    if ((mail ? 1 : 0) + (sms ? 1 : 0) != 1 && pf.is_map())
      pf.error(mail ? "two addresses are given" : "there is no address", "give either mail: or sms_by_mail:");
    if (const auto a = mail ? mail : sms) {
      const std::string address = read_text(*a).value_or("");
      if (!address.empty() && !is_address(address))
        a->error(fmt::format("'{}' is not a mail address", address), "write it like works@example.org");
      p.reach.push_back({mail ? ReachBy::mail : ReachBy::sms_by_mail, address});
    }
    if (const auto v = s.need("for", "for: all"))
      if (const auto i = read_choice(*v, {"all", "call now"})) p.calls_now = *i == 1;
    if (const auto v = s.get("at"))
      if (const auto t = read_text(*v)) {
        p.at = parse_when(*t);
        if (!p.at)
          v->error(fmt::format("'{}' is not a time", *t), "write it like 'weekdays 07:00' or 'daily 07:00'");
      }
    b.d.site.people.push_back(std::move(p));
  }
}

}  // namespace riserkeep
