#include "rules/notices/bundle.h"

#include <algorithm>
#include <map>
#include <set>

#include "rules/judge/classes.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

constexpr std::size_t kMostLines = 200;      // of short texts in one bundle; the rest is counted
constexpr std::size_t kMostNames = 12;
constexpr std::size_t kMostAdded = 60;       // letters added to a short text that waits

std::string times(std::size_t n, std::string_view what) { return fixed(static_cast<double>(n), 0) + " " + std::string{what}; }

bool worse(const Draft* a, const Draft* b) {
  if (a->priority != b->priority) return a->priority > b->priority;
  return a->urgent != b->urgent ? a->urgent : a->since < b->since;
}

std::vector<const Draft*> worst_first(const std::vector<Draft>& all) {
  std::vector<const Draft*> out;
  for (const Draft& d : all) out.push_back(&d);
  std::ranges::stable_sort(out, worse);
  return out;
}

// "3 critical, 12 high, 4 medium"
std::string by_priority(const std::vector<Draft>& all) {
  std::string out;
  for (const Priority p : {Priority::critical, Priority::high, Priority::medium, Priority::low}) {
    const auto n = std::ranges::count(all, p, &Draft::priority);
    if (n > 0) out += (out.empty() ? "" : ", ") + times(static_cast<std::size_t>(n), word(p));
  }
  return out;
}

// "Loading dock 4, Archive 2"
std::string by_place(const Site& site, const std::vector<const Draft*>& all) {
  std::map<PlaceId, std::size_t> count;
  std::vector<PlaceId> order;          // of the worst message of each
  for (const Draft* d : all)
    if (count[d->place]++ == 0) order.push_back(d->place);
  std::string out;
  for (std::size_t i = 0; i < order.size() && i < kMostNames; ++i)
    out += (i ? ", " : "") + std::string{place_name(site, order[i])} + " " + fixed(static_cast<double>(count[order[i]]), 0);
  if (order.size() > kMostNames) out += " and " + times(order.size() - kMostNames, "more places");
  return out;
}

// "pressure-low 4, link-lost 1": what the messages are about, told by the kind where it is no alarm.
std::string by_kind(const std::vector<const Draft*>& all) {
  std::map<NoticeKind, std::size_t> count;
  for (const Draft* d : all) ++count[d->kind];
  std::string out;
  for (const auto& [kind, n] : count) {
    std::string name{word(kind)};
    std::ranges::replace(name, '_', ' ');
    out += (out.empty() ? "" : ", ") + name + " " + fixed(static_cast<double>(n), 0);
  }
  return out;
}

std::string lines(const std::vector<const Draft*>& all) {
  std::string out;
  for (std::size_t i = 0; i < all.size() && i < kMostLines; ++i) out += "- " + all[i]->short_text + "\n";
  if (all.size() > kMostLines) out += "and " + times(all.size() - kMostLines, "more; `riserkeep status` lists them all") + ".\n";
  return out;
}

}  // namespace

Draft bundled(const Site& site, const std::vector<Draft>& all, Bundle why) {
  const auto sorted = worst_first(all);
  Draft out = *sorted.front();
  out.kind = NoticeKind::digest;
  out.topic = 0;
  out.references.clear();
  std::set<std::string_view> named;
  for (const Draft* d : sorted) {
    out.since = std::min(out.since, d->since);
    out.about_delivery = out.about_delivery || d->about_delivery;
    for (const std::string& r : d->references)
      if (named.insert(r).second) out.references.push_back(r);
  }
  const std::string head = times(all.size(), all.size() == 1 ? "message" : "messages") + " (" + by_priority(all) + ")";
  out.subject = site.id + ": " + head;
  std::string text = head + (why == Bundle::flood ? ", put together because they came too fast" : ", kept for this time") +
                     ". First: " + sorted.front()->short_text;
  out.short_text = shortened(text);
  out.long_text = site.name + " (" + site.id + ")\n\n" + head +
                  (why == Bundle::flood ? ", put together because they came faster than anyone can read.\n" : ", kept for this time.\n") +
                  "By place: " + by_place(site, sorted) + ".\nBy kind: " + by_kind(sorted) + ".\n\n" + lines(sorted) + "\n" +
                  sorted.front()->long_text;
  return out;
}

void add_words(Draft& d, const std::string& words) {
  const std::size_t reference = std::min(d.short_text.rfind(" Ref "), d.short_text.size());
  const std::string plain = gsm_only(" " + words);
  if (gsm_length(plain) <= kMostAdded) d.short_text = shortened(d.short_text.substr(0, reference), plain + d.short_text.substr(reference));
  if (!d.long_text.empty()) d.long_text += "\n" + words + "\n";
}

}  // namespace riserkeep
