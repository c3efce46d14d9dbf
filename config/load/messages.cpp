// messages: and texts: - how often people are told, and in whose words.
#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

#include "config/load/local_times.h"
#include "config/load/people.h"
#include "rules/judge/classes.h"
#include "rules/text.h"

namespace riserkeep {

namespace {

double to_si(Duration v) { return in_seconds(v); }
double to_si(int v) { return v; }
void from_si(Duration& v, double si) { v = from_seconds(si); }
void from_si(int& v, double si) { v = static_cast<int>(std::lround(si)); }

template <auto Member>
constexpr MessageKey key(std::string_view name, double low, double high, std::string_view help) {
  using Member_type = std::remove_reference_t<decltype(std::declval<MessageParams>().*Member)>;
  return {name,
          std::is_same_v<Member_type, int> ? Dimension::count : Dimension::duration,
          low,
          high,
          help,
          [](const MessageParams& p) { return to_si(p.*Member); },
          [](MessageParams& p, double si) { from_si(p.*Member, si); }};
}

using P = MessageParams;
constexpr double kMin = 60, kHour = 3600, kDay = 86400;

const std::array kKeys{
    key<&P::remind_critical>("remind_critical", kMin, kDay, "a critical alarm nobody acknowledged is told again this often"),
    key<&P::remind_high>("remind_high", kMin, 7 * kDay, "the same for a high one"),
    key<&P::remind_medium>("remind_medium", kMin, 30 * kDay, "the same for a medium one"),
    key<&P::gather>("gather", 0, 10 * kMin, "alarms of one cause within this time become one message; critical ones wait too"),
    key<&P::flap_changes>("flap_changes", 2, 100, "so many raises within flap_within, then the alarm is called unstable"),
    key<&P::flap_within>("flap_within", kMin, 7 * kDay, "the time that flap_changes counts over"),
    key<&P::calm>("calm", kMin, 7 * kDay, "an unstable alarm is told again once it has been calm for this long"),
    key<&P::flood>("flood", 1, 1000, "messages to one person within flood_within, then the rest become one digest"),
    key<&P::flood_within>("flood_within", kMin, kDay, "the time that flood counts over"),
    key<&P::daily_cap>("daily_cap", 1, 10000, "messages to one person in a day; critical ones always go out"),
};

bool unsafe_advice(const std::string& text) {
  std::string low;
  for (const char c : text) low += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  const auto has = [&](std::string_view word) { return low.find(word) != std::string::npos; };
  return has("water") && (has("shut") || has("clos") || has("turn off") || has("isolat"));
}

constexpr std::size_t kLongestText = 400;

void check_text(const Field& f, const std::string& text) {
  if (text.size() > kLongestText)
    f.error(fmt::format("the text has {} letters, more than {}", text.size(), kLongestText), "say the first act, nothing else");
  if (std::ranges::any_of(text, [](char c) { return static_cast<unsigned char>(c) < 0x20 && c != '\n'; }))
    f.error("there is a control character in the text", "write plain text");
  const std::string sent = gsm_only(text);
  if (gsm_length(sent) <= kShortText && sent != text)
    f.warn("a text message cannot carry every letter of this", fmt::format("it would read: {}", sent.substr(0, 80)));
  if (unsafe_advice(text))
    f.warn("this could be read as 'shut the water': nobody may do that on a message's word alone",
           "leave the water supply to licensed practice and the building's emergency plan");
}

}  // namespace

std::span<const MessageKey> message_keys() { return kKeys; }

void read_messages(MessageParams& params, const std::optional<Field>& f) {
  if (!f) return;
  Section s(*f, "{remind_high: 4 h, all_well: daily 08:00}");
  for (const MessageKey& k : kKeys) {
    const auto v = s.get(k.key);
    if (!v) continue;
    if (k.dimension == Dimension::count) {
      if (const auto n = read_integer(*v, std::lround(k.low), std::lround(k.high))) k.set(params, static_cast<double>(*n));
    } else if (const auto si = read_quantity(*v, k.dimension, {k.low, k.high})) {
      k.set(params, *si);
    }
  }
  if (const auto v = s.get("all_well")) params.all_well = read_day_time(*v);
  if (const auto v = s.get("start_and_stop")) params.start_and_stop = read_flag(*v).value_or(params.start_and_stop);
  if (params.remind_critical > params.remind_high || params.remind_high > params.remind_medium)
    f->error("a less urgent alarm would be told again sooner than a more urgent one",
             "order the three: remind_critical, remind_high, remind_medium");
}

void read_texts(Build& b, const std::optional<Field>& f) {
  if (!f) return;
  if (!f->is_map()) {
    f->error("a map is expected here", "write it like {pressure-low: \"Call the porter, then read the gauge.\"}");
    return;
  }
  std::vector<std::string> words;
  for (std::size_t i = 0; i < kClassCount; ++i) words.emplace_back(word(static_cast<ClassId>(i)));
  for (const Entry& e : f->node->entries) {
    const Field tf = f->of(e);
    const auto found = std::ranges::find(words, e.key);
    if (found == words.end()) {
      tf.error(fmt::format("there is no alarm '{}'", e.key), suggest(e.key, words));
      continue;
    }
    const auto text = read_text(tf);
    if (!text) continue;
    check_text(tf, *text);
    b.d.site.texts.push_back({static_cast<ClassId>(found - words.begin()), *text});
  }
}

}  // namespace riserkeep
