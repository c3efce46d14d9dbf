// Wakes one waiting thread. An eventfd rather than a condition variable: the wait is on the steady clock, and
// a thread sanitizer of this age does not know that wait of a condition variable.
#pragma once

#include <chrono>

namespace riserkeep {

class Wake {
 public:
  Wake();                                         // throws std::system_error when out of descriptors
  ~Wake();
  Wake(const Wake&) = delete;
  Wake& operator=(const Wake&) = delete;
  void ring();                                    // any thread; never blocks
  void wait(std::chrono::milliseconds longest);   // returns at once when rung since the last wait

 private:
  int fd_;
};

// Signals belong to the main thread: call first in every other one.
void block_signals();
void name_thread(const char* name);               // at most 15 characters

}  // namespace riserkeep
