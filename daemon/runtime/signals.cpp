#include "daemon/runtime/signals.h"

#include <signal.h>

#include <initializer_list>

namespace riserkeep {
namespace {

void mask(int how) {
  sigset_t set;
  sigemptyset(&set);
  for (const int s : {SIGTERM, SIGINT, SIGHUP}) sigaddset(&set, s);
  pthread_sigmask(how, &set, nullptr);
}

}  // namespace

void hold_signals() { mask(SIG_BLOCK); }
void let_signals_in() { mask(SIG_UNBLOCK); }

}  // namespace riserkeep
