// From raised alarms to one message per cause.
#include <algorithm>

#include "rules/notices/audience.h"
#include "rules/notices/cause.h"
#include "rules/notices/message.h"
#include "rules/notices/notices.h"

namespace riserkeep {

struct Notices::Candidate {
  AlarmKey key;
  std::optional<Explained> by;
  bool taken = false;
};

namespace {

void drop(std::vector<AlarmKey>& from, const AlarmKey& key) { std::erase(from, key); }

}  // namespace

// What a returned alarm explained is looked at again: it is told now if it still stands.
void Notices::parents_returned(const SiteView& view) {
  for (const AlarmKey& parent : std::exchange(returned_, {})) {
    split_children(view, parent);
    for (const AlarmKey& child : std::vector<AlarmKey>{explained_}) {
      Watched& p = points_[child];
      if (p.stage != Stage::explained) drop(explained_, child);
      if (p.stage != Stage::explained || p.parent != parent) continue;
      if (const auto by = explained(view, child, p.member.priority)) {
        p.parent = by->by;
        continue;
      }
      drop(explained_, child);
      p.still_bad = true;
      gather(p, view.now);
    }
  }
}

// Those that were named with their cause and outlast it get a message of their own.
void Notices::split_children(const SiteView& view, AlarmKey parent) {
  const auto t = topics_.find(points_[parent].topic);
  if (t == topics_.end() || t->second.members.front().key() != parent) return;
  std::vector<AlarmKey> outlasting;
  for (const Member& m : t->second.members)
    if (m.child && m.standing() && !explained(view, m.key(), m.priority)) outlasting.push_back(m.key());
  for (const AlarmKey& key : outlasting) {
    std::erase_if(t->second.members, [&](const Member& m) { return m.key() == key; });
    Watched& p = points_[key];
    p.topic = 0;
    p.still_bad = true;
    gather(p, view.now);
  }
  if (std::ranges::none_of(t->second.members, &Member::standing)) t->second.over = view.now;
}

void Notices::rested(const SiteView& view) {
  for (const AlarmKey& key : std::vector<AlarmKey>{resting_}) {
    Watched& p = points_[key];
    const bool over = p.stage != Stage::resting;
    if (!over && rests(view, key.first, key.second)) continue;
    drop(resting_, key);
    if (over) continue;
    p.stage = Stage::quiet;
    if (p.member.standing() && !p.member.acknowledged) gather(p, view.now);
  }
}

std::vector<Notices::Candidate> Notices::candidates(const SiteView& view) {
  std::vector<Candidate> out;
  const bool any_due = std::ranges::any_of(gathering_, [&](AlarmKey k) { return points_[k].due <= view.now; });
  if (!any_due) return out;
  for (const AlarmKey& key : gathering_) {
    Candidate c{key, explained(view, key, points_[key].member.priority), false};
    out.push_back(std::move(c));
  }
  return out;
}

// Told because its cause has returned: only if it still stands by a reading's word, and nobody knows of it.
Notices::Fate Notices::fate_of(const SiteView& view, const Candidate& c) {
  const Watched& p = points_[c.key];
  const auto [alarm, place] = c.key;
  if (p.still_bad && (!p.member.standing() || p.member.acknowledged)) return Fate::settled;
  if (p.still_bad && (unproven(view, alarm, place) || clearing(view, alarm, place))) return Fate::later;
  if (rests(view, alarm, place)) return Fate::rests;
  return c.by ? Fate::explained : Fate::told;
}

void Notices::tell_gathered(const SiteView& view, Effects& out) {
  auto all = candidates(view);
  for (std::size_t i = 0; i < all.size(); ++i) {
    Watched& p = points_[all[i].key];
    if (all[i].taken || p.due > view.now) continue;
    switch (fate_of(view, all[i])) {
      case Fate::later: break;
      case Fate::settled: p.stage = Stage::quiet; break;
      case Fate::rests:
        p.stage = Stage::resting;
        resting_.push_back(all[i].key);
        break;
      case Fate::told: tell(view, group(view, all, i), out); break;
      case Fate::explained: explain(view, all, i, out); break;
    }
  }
  std::erase_if(gathering_, [&](const AlarmKey& k) { return points_[k].stage != Stage::gathering; });
}

// Its cause was told, or is about to be: then both are one message.
void Notices::explain(const SiteView& view, std::vector<Candidate>& all, std::size_t child, Effects& out) {
  const auto root = std::ranges::find_if(all, [&](const Candidate& c) { return !c.taken && c.key == all[child].by->root; });
  if (root != all.end() && !rests(view, root->key.first, root->key.second))
    return tell(view, group(view, all, static_cast<std::size_t>(root - all.begin())), out);
  Watched& p = points_[all[child].key];
  p.stage = Stage::explained;
  p.parent = all[child].by->by;
  explained_.push_back(all[child].key);
}

// The leader, its like at the same supply, and what all these explain.
std::vector<AlarmKey> Notices::group(const SiteView& view, std::vector<Candidate>& all, std::size_t leader) {
  const AlarmKey first = all[leader].key;
  const Watched& lead = points_[first];
  const PlaceId shared = shared_by(view.site, first.second);
  std::vector<AlarmKey> causes{first}, children;
  all[leader].taken = true;
  for (Candidate& c : all) {
    const Watched& p = points_[c.key];
    if (c.taken || c.by || c.key.first != first.first || shared_by(view.site, c.key.second) != shared) continue;
    // One that comes and goes, or outlasts its cause, is told by itself.
    if (p.still_bad != lead.still_bad || p.flap.count() != lead.flap.count() || rests(view, c.key.first, c.key.second)) continue;
    c.taken = true;
    causes.push_back(c.key);
  }
  for (Candidate& c : all) {
    if (c.taken || !c.by || std::ranges::find(causes, c.by->root) == causes.end()) continue;
    c.taken = true;
    children.push_back(c.key);
  }
  for (const AlarmKey& key : causes) points_[key].member.child = false;
  for (const AlarmKey& key : children) points_[key].member.child = true;
  causes.insert(causes.end(), children.begin(), children.end());
  return causes;
}

void Notices::tell(const SiteView& view, const std::vector<AlarmKey>& keys, Effects& out) {
  const TopicId id = next_++;
  Topic t;
  const Watched& first = points_[keys.front()];
  t.kind = first.still_bad ? NoticeKind::still_bad : NoticeKind::alarm;
  if (!first.still_bad && (first.flap.slow(view.now) || first.flap.fast(view.site.messages, view.now))) {
    t.unstable = true;
    t.kind = NoticeKind::unstable;
  }
  t.raises = first.flap.count();
  t.unstable_from = first.flap.first();
  t.opened = view.now;
  for (const AlarmKey& key : keys) {
    Watched& p = points_[key];
    p.stage = Stage::told;
    p.topic = id;
    p.still_bad = false;
    if (!p.member.child) p.flap.told(view.now);
    t.members.push_back(p.member);
  }
  if (std::ranges::none_of(t.members, &Member::standing)) t.over = std::ranges::max(t.members, {}, &Member::ended).ended;
  Topic& kept = topics_[id] = std::move(t);
  say(view, id, kept, kept.kind, told_at_once(view.site, kept), out);
}

}  // namespace riserkeep
