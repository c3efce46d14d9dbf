#include "rules/notices/message.h"

#include <algorithm>

#include "rules/alarms/board.h"
#include "rules/notices/cause.h"
#include "rules/notices/paragraph.h"
#include "rules/notices/urgency.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

constexpr std::size_t kMostMembers = 60;             // told one by one in a paragraph

std::string count(std::size_t n) { return fixed(static_cast<double>(n), 0); }

std::string upper(std::string_view s) {
  std::string out{s};
  for (char& c : out)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  return out;
}

// With the newest value while the occurrence lasts.
struct Words {
  std::string reference, cause, unit;
  Occurrence o;
  Words(const SiteView& view, const Member& m) : reference(reference_of(m.id)), cause(m.cause), unit(m.unit) {
    o = {m.alarm, m.place, m.priority, m.since, m.value, m.limit, {}, {}, {}};
    const AlarmLifecycle* life = view.alarms.find(m.alarm, m.place);
    if (life && life->id() == m.id && m.standing()) {
      o.value = life->value();
      o.limit = life->limit();
      unit = life->unit();
      cause = life->cause();
    }
  }
  Words(const Words&) = delete;
  Words& operator=(const Words&) = delete;
  const Occurrence& occurrence() {
    o.unit = unit;
    o.cause = cause;
    o.reference = reference;
    return o;
  }
};

std::string place(const SiteView& view, PlaceId p) { return std::string{place_name(view.site, p)}; }

// "with 3 more: Archive, Canopy, Mezzanine"
std::string company(const SiteView& view, const Topic& t) {
  std::string names;
  for (std::size_t i = 1; i < t.members.size() && i < kMostMembers; ++i)
    names += (i > 1 ? ", " : "") + place(view, t.members[i].place) +
             (t.members[i].alarm == t.members[0].alarm ? "" : " " + std::string{class_of(t.members[i].alarm).what});
  return t.members.size() < 2 ? names : "with " + count(t.members.size() - 1) + " more: " + names;
}

std::string lead(NoticeKind kind) {
  switch (kind) {
    case NoticeKind::reminder: return "Reminder: ";
    case NoticeKind::escalation: return "Unanswered: ";
    case NoticeKind::still_bad: return "Still: ";
    case NoticeKind::unstable: return "Comes and goes: ";
    default: return {};
  }
}

std::string came_and_went(const SiteView& view, const Topic& t) {
  return count(static_cast<std::size_t>(std::max(t.raises, 1))) + " times in " + duration_text(view.now - t.unstable_from);
}

std::string short_words(const SiteView& view, const Topic& t, NoticeKind kind) {
  const Member& first = t.members.front();
  Words w{view, first};
  if (kind == NoticeKind::back_to_normal) {
    const EngineTime end = t.over.value_or(view.now);
    if (t.unstable) w.o.since = t.unstable_from;
    std::string text = cleared_text(view.site, w.occurrence(), end);
    const std::string tail = " Ref " + w.reference;
    if (t.members.size() > 1) text = shortened(text.substr(0, text.size() - tail.size()) + " " + company(view, t) + ".", tail);
    return text;
  }
  if (std::string next = ahead(view, first.alarm, first.place); !next.empty() && first.standing()) {
    w.cause = std::move(next);
    if (first.alarm == ClassId::supply_failed) w.o.value = w.o.limit = std::nullopt;  // leave the room for what matters more
  }
  if (t.members.size() > 1) w.cause = company(view, t);
  if (kind == NoticeKind::unstable) w.cause = came_and_went(view, t);
  return alarm_text(view.site, w.occurrence(), view.now, lead(kind));
}

// Why this message comes, in a sentence; empty for a plain alarm.
std::string reason(const SiteView& view, const Topic& t, NoticeKind kind) {
  const MessageParams& m = view.site.messages;
  switch (kind) {
    case NoticeKind::reminder: return "This stands and nobody has acknowledged it.";
    case NoticeKind::escalation: return "You are told because this stands and nobody has acknowledged it so far.";
    case NoticeKind::still_bad: return "What explained this is back, and this still stands.";
    case NoticeKind::unstable:
      return "This comes and goes: " + came_and_went(view, t) + ". No more messages about it until it has kept still for " +
             duration_text(m.calm) + (t.priority() == Priority::critical ? ", but reminders while it stands." : ".");
    case NoticeKind::back_to_normal:
      return t.unstable ? "This came and went " + came_and_went(view, t) + " and keeps still now." : "Back to normal.";
    default: return {};
  }
}

std::string member_line(const SiteView& view, const Member& m) {
  Words w{view, m};
  std::string out = "- " + place(view, m.place) + ": " + std::string{class_of(m.alarm).what};
  if (w.o.value) out += " " + fixed(*w.o.value, class_of(m.alarm).decimals) + " " + w.unit;
  if (m.ended) out += ", over after " + duration_text(*m.ended - m.since);
  else out += ", for " + duration_text(view.now - m.since);
  return out + ". Ref " + w.reference + (m.acknowledged ? ", acknowledged" : "") + "\n";
}

std::string long_words(const SiteView& view, const Topic& t, NoticeKind kind) {
  std::string out = view.site.name + " (" + view.site.id + ")\n\n";
  if (const std::string why = reason(view, t, kind); !why.empty()) out += why + "\n";
  Words w{view, t.members.front()};
  if (kind == NoticeKind::back_to_normal) {
    for (std::size_t i = 0; i < t.members.size() && i < kMostMembers; ++i) out += member_line(view, t.members[i]);
    return out;
  }
  if (t.members.front().ended) out += "It is over already, after " + duration_text(*t.members.front().ended - t.members.front().since) + ".\n";
  out += paragraph(view, w.occurrence());
  if (t.members.size() > 1) out += "\nWith it:\n";
  for (std::size_t i = 1; i < t.members.size() && i < kMostMembers; ++i) out += member_line(view, t.members[i]);
  if (t.members.size() > kMostMembers) out += "and " + count(t.members.size() - kMostMembers) + " more; `riserkeep status` lists them.\n";
  return out;
}

}  // namespace

std::string over_words(const Topic& t) {
  return "Over after " + duration_text(t.over.value_or(t.opened) - t.began()) + ".";
}

Draft draft_of(const SiteView& view, TopicId id, const Topic& t, NoticeKind kind) {
  const Member& first = t.members.front();
  Draft d;
  d.kind = kind;
  d.topic = id;
  d.priority = t.priority();
  d.place = first.place;
  d.since = t.began();
  for (const Member& m : t.members) {
    d.references.push_back(reference_of(m.id));
    d.urgent = d.urgent || calls_now(m.alarm, m.priority);
    d.about_delivery = d.about_delivery || m.alarm == ClassId::messages_undelivered;
  }
  const bool over = kind == NoticeKind::back_to_normal;
  d.subject = view.site.id + ": " + (over ? "Back to normal: " : lead(kind) + upper(word(d.priority)) + " ") + place(view, first.place) + ": " +
              std::string{class_of(first.alarm).what} +
              (t.members.size() > 1 ? " and " + count(t.members.size() - 1) + " more" : "") + " (" + d.references.front() + ")";
  d.short_text = short_words(view, t, kind);
  d.long_text = long_words(view, t, kind);
  return d;
}

}  // namespace riserkeep
