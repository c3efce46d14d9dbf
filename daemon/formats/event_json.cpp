#include "daemon/formats/event_json.h"

#include <fmt/format.h>

#include <cmath>
#include <utility>

#include "daemon/formats/rfc3339.h"
#include "rules/text.h"
#include "rules/units.h"

namespace riserkeep {
namespace {

// Length of the well-formed UTF-8 sequence at `at` (RFC 3629, section 4), or 0.
std::size_t utf8_length(std::string_view s, std::size_t at) {
  const auto byte = [&](std::size_t i) { return at + i < s.size() ? static_cast<unsigned char>(s[at + i]) : 0u; };
  const auto tail = [&](std::size_t i) { return (byte(i) & 0xC0u) == 0x80u; };
  const unsigned first = byte(0), second = byte(1);
  if (first < 0x80) return 1;
  if (first >= 0xC2 && first <= 0xDF) return tail(1) ? 2 : 0;
  if (first >= 0xE0 && first <= 0xEF) {
    if (first == 0xE0 && second < 0xA0) return 0;
    if (first == 0xED && second > 0x9F) return 0;
    return tail(1) && tail(2) ? 3 : 0;
  }
  if (first < 0xF0 || first > 0xF4) return 0;
  if (first == 0xF0 && second < 0x90) return 0;
  if (first == 0xF4 && second > 0x8F) return 0;
  return tail(1) && tail(2) && tail(3) ? 4 : 0;
}

void append_control(std::string& to, char c) {
  switch (c) {
    case '\n': to += "\\n"; break;
    case '\r': to += "\\r"; break;
    case '\t': to += "\\t"; break;
    default: to += fmt::format("\\u{:04x}", static_cast<unsigned>(static_cast<unsigned char>(c)));
  }
}

void append_json_string(std::string& to, std::string_view s) {
  to += '"';
  for (std::size_t i = 0; i < s.size();) {
    const char c = s[i];
    const std::size_t n = utf8_length(s, i);
    if (n == 0) to += "\xEF\xBF\xBD";
    else if (c == '"' || c == '\\') (to += '\\') += c;
    else if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) append_control(to, c);
    else to.append(s, i, n);
    i += n == 0 ? 1 : n;
  }
  to += '"';
}

// Writes one object, key by key, in the order of the calls.
class Line {
 public:
  Line(const Site& site, std::optional<WallTime> wall, EngineTime at) : site_(site), at_(at) {
    if (wall) offset_ms_ = wall->ms - at.time_since_epoch().count();
  }

  void number(std::string_view key, std::uint64_t v) { (open(key) += fmt::format("{}", v)); }
  void flag(std::string_view key, bool v) { open(key) += v ? "true" : "false"; }
  void text(std::string_view key, std::string_view v) { append_json_string(open(key), v); }
  void fixed(std::string_view key, std::optional<double> v, int decimals) {
    open(key) += v && std::isfinite(*v) ? riserkeep::fixed(*v, decimals) : "null";
  }
  void time(std::string_view key, std::optional<EngineTime> t) {
    std::string& to = open(key);
    if (t && offset_ms_) append_json_string(to, rfc3339(WallTime{t->time_since_epoch().count() + *offset_ms_}));
    else to += "null";
    if (t && !offset_ms_) engine_time(key, *t);
  }
  template <class List, class Name>
  void list(std::string_view key, const List& items, Name name) {
    std::string& to = open(key) += '[';
    for (bool first = true; const auto& item : items) {
      if (!std::exchange(first, false)) to += ',';
      append_json_string(to, name(item));
    }
    to += ']';
  }
  void head(std::uint64_t seq, std::string_view kind, PlaceId place) {
    number("seq", seq);
    time("time", at_);
    text("kind", kind);
    text("point", place_id(site_, place));
  }
  std::string take() { return std::move(line_ += '}'); }

  const Site& site() const { return site_; }
  EngineTime at() const { return at_; }

 private:
  std::string& open(std::string_view key) {
    line_ += line_.empty() ? "{" : ",";
    return ((line_ += '"') += key) += "\":";
  }
  void engine_time(std::string_view key, EngineTime t) {
    const std::string name = key == "time" ? "engine_ms" : std::string{key} + "_engine_ms";
    open(name) += fmt::format("{}", t.time_since_epoch().count());
  }

  const Site& site_;
  EngineTime at_;
  std::optional<std::int64_t> offset_ms_;
  std::string line_;
};

void write(Line& o, const AlarmChanged& a) {
  o.text("alarm", word(a.alarm));
  o.text("change", word(a.change));
  o.text("state", word(a.state));
  o.text("priority", word(a.priority));
  o.text("category", word(a.category));
  o.time("since", a.since);
  o.fixed("value", a.value, 3);
  o.fixed("limit", a.limit, 3);
  o.text("unit", a.unit);
  o.text("cause", a.cause);
  o.text("text", a.text);
  o.text("first_action", a.first_action);
  o.number("id", static_cast<std::uint64_t>(a.id));
  o.text("reference", a.reference);
  if (!a.who.empty()) o.text("who", a.who);
  if (a.until) o.time("until", a.until);
  if (!a.why.empty()) o.text("why", a.why);
}

void write(Line&, const OutputOrder&) {}

void write(Line& o, const VentEvent& v) {
  o.text("change", word(v.change));
  o.number("order", static_cast<std::uint64_t>(v.order));
  o.text("reason", v.reason);
  o.text("output", o.site()[v.output].id);
}

void write(Line& o, const RefillSeen& r) {
  o.time("started", r.started);
  o.fixed("seconds", in_seconds(r.took), 3);
  o.fixed("psi", in_psi(r.rise), 3);
  o.text("cause", word(r.cause));
}

void write(Line& o, const LeakEstimate& e) {
  const LeakResult& l = e.leak;
  const auto part = [](const std::optional<Interval>& i, double Interval::*m) {
    return i ? std::optional{(*i).*m} : std::nullopt;
  };
  o.text("estimate", "leak_rate");
  o.flag("observable", l.observable);
  o.text("why_not", l.why_not);
  o.fixed("psi_per_24h_service", part(l.at_service, &Interval::value), 3);
  o.fixed("service_low95", part(l.at_service, &Interval::low95), 3);
  o.fixed("service_high95", part(l.at_service, &Interval::high95), 3);
  o.fixed("psi_per_24h", part(l.at_40psi, &Interval::value), 3);
  o.fixed("low95", part(l.at_40psi, &Interval::low95), 3);
  o.fixed("high95", part(l.at_40psi, &Interval::high95), 3);
  o.fixed("hole_mm", l.hole_mm, 3);
  o.fixed("std_l_per_min", l.std_l_per_min, 4);
  o.fixed("hours_of_data", l.hours_of_data, 1);
}

void write(Line& o, const PurityEstimate& e) {
  const PurityResult& p = e.purity;
  o.text("estimate", "purity");
  o.fixed("oxygen_percent", p.oxygen ? std::optional{p.oxygen->percent()} : std::nullopt, 3);
  o.text("where", word(p.where));
  o.text("how", word(p.how));
  o.fixed("age_s", p.oxygen ? std::optional{in_seconds(o.at() - p.measured)} : std::nullopt, 0);
  o.text("grade", word(p.grade));
  o.fixed("ledger_percent", p.ledger_percent, 3);
  o.fixed("ledger_high95", p.ledger_high95, 3);
  o.fixed("asymptote_percent", p.asymptote_percent, 3);
  o.fixed("asymptote_low95", p.asymptote_low95, 3);
  o.fixed("asymptote_high95", p.asymptote_high95, 3);
  o.fixed("tau_hours", p.tau_hours, 2);
  o.time("target_at", p.target_at);
  o.time("target_low95", p.target_low95);
  o.time("target_high95", p.target_high95);
}

void write(Line& o, const Notice& n) {
  o.number("notice", static_cast<std::uint64_t>(n.id));
  o.text("what", word(n.kind));
  o.list("to", n.to, [&](PersonId p) { return p.index < o.site().people.size() ? std::string_view{o.site().people[p.index].id} : std::string_view{}; });
  o.list("alarms", n.references, [](const std::string& r) { return std::string_view{r}; });
  o.text("priority", word(n.priority));
  o.time("since", n.since);
  o.text("subject", n.subject);
  o.text("short", n.short_text);
  o.text("long", n.long_text);
  o.flag("about_delivery", n.about_delivery);
}

void write(Line& o, const Note& n) { o.text("text", n.text); }

PlaceId place_of(const Site&, const AlarmChanged& a) { return a.place; }
PlaceId place_of(const Site& s, const OutputOrder& o) { return s[o.output].place; }
PlaceId place_of(const Site& s, const VentEvent& v) { return s[v.output].place; }
PlaceId place_of(const Site&, const RefillSeen& r) { return r.system; }
PlaceId place_of(const Site&, const LeakEstimate& e) { return e.system; }
PlaceId place_of(const Site&, const PurityEstimate& e) { return e.system; }
PlaceId place_of(const Site&, const Note& n) { return n.place; }
PlaceId place_of(const Site&, const Notice& n) { return n.place; }

std::string_view kind_of(const AlarmChanged&) { return "alarm"; }
std::string_view kind_of(const OutputOrder&) { return {}; }
std::string_view kind_of(const VentEvent&) { return "vent"; }
std::string_view kind_of(const RefillSeen&) { return "refill"; }
std::string_view kind_of(const LeakEstimate&) { return "estimate"; }
std::string_view kind_of(const PurityEstimate&) { return "estimate"; }
std::string_view kind_of(const Note&) { return "note"; }
std::string_view kind_of(const Notice&) { return "notice"; }

}  // namespace

std::string json_string(std::string_view s) {
  std::string out;
  append_json_string(out, s);
  return out;
}

bool is_event(const Effect& e) { return !std::holds_alternative<OutputOrder>(e); }

std::string_view event_kind(const Effect& e) {
  return std::visit([](const auto& x) { return kind_of(x); }, e);
}

PlaceId event_place(const Site& site, const Effect& e) {
  return std::visit([&](const auto& x) { return place_of(site, x); }, e);
}

std::string event_json(const Site& site, std::uint64_t seq, std::optional<WallTime> wall, EngineTime at,
                       const Effect& e) {
  if (!is_event(e)) return {};
  Line line{site, wall, at};
  line.head(seq, event_kind(e), event_place(site, e));
  std::visit([&](const auto& x) { write(line, x); }, e);
  return line.take();
}

}  // namespace riserkeep
