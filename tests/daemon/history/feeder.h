// Feeds a store as the loop does: numbered inputs, now and then an event.
#pragma once

#include <condition_variable>
#include <cstdio>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "daemon/formats/input_log.h"
#include "daemon/history/store.h"

namespace riserkeep::testing {

inline EngineTime at_ms(std::int64_t ms) { return EngineTime{Duration{ms}}; }

inline std::string packed(const Stamped& s) {
  std::string out;
  append_stamped(out, s);
  return out;
}

// Waits for the answer, 20 s at most.
inline bool durable(Store& store) {
  struct Answer { std::mutex m; std::condition_variable c; bool here = false, yes = false; };
  auto answer = std::make_shared<Answer>();
  store.barrier([answer](bool yes) {
    const std::lock_guard lock{answer->m};
    answer->here = true;
    answer->yes = yes;
    answer->c.notify_one();
  });
  std::unique_lock lock{answer->m};
  answer->c.wait_for(lock, std::chrono::seconds{20}, [&] { return answer->here; });
  return answer->here && answer->yes;
}

class Feeder {
 public:
  Feeder(const Site& site, Store& store, const Restored& r) : site_(site), store_(store), seq_(static_cast<std::uint64_t>(r.next_input)) {}

  void input(EngineTime at, Input i, int notes = 0) {
    std::vector<JournalEvent> events;
    for (int n = 0; n < notes; ++n)
      events.push_back(journal_event(site_, store_.next_event_seq(), WallTime{at.time_since_epoch().count()}, at, Note{PlaceId{}, "input " + std::to_string(seq_)}));
    const Stamped s{Seq{seq_++}, at, std::move(i)};
    fed.push_back(s);
    for (const auto& e : events) told.push_back(e.json);
    store_.append(s, std::move(events));
  }
  void reading(EngineTime at, std::uint16_t channel, std::int64_t ticks, int notes = 0) {
    input(at, Reading{ChannelId{channel}, at, ticks, Quality::good, Why::none}, notes);
  }
  Seq last() const { return Seq{seq_ - 1}; }

  std::vector<Stamped> fed;
  std::vector<std::string> told;

 private:
  const Site& site_;
  Store& store_;
  std::uint64_t seq_;
};

// What a `FILE*` function writes.
template <class F> std::string written(F f) {
  char* data = nullptr;
  std::size_t size = 0;
  std::FILE* out = ::open_memstream(&data, &size);
  f(out);
  std::fclose(out);
  std::string text{data, size};
  std::free(data);
  return text;
}

}  // namespace riserkeep::testing
