// The inside of Runtime. Members are in the order of their dependence: what is below uses what is above.
#pragma once

#include <atomic>
#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "config/load/problem.h"
#include "config/site.h"
#include "daemon/alerts/alerts.h"
#include "daemon/history/store.h"
#include "daemon/runtime/calendar.h"
#include "daemon/runtime/clock.h"
#include "daemon/runtime/devices.h"
#include "daemon/runtime/executor.h"
#include "daemon/runtime/liveness.h"
#include "daemon/runtime/mailbox.h"
#include "daemon/runtime/publisher.h"
#include "daemon/runtime/restart.h"
#include "daemon/runtime/runtime.h"
#include "daemon/runtime/store_journal.h"
#include "daemon/runtime/well_output.h"
#include "daemon/service/router.h"
#include "daemon/service/session.h"
#include "rules/engine.h"

namespace riserkeep {

class Runtime::Loop {
 public:
  // `config_trouble`: why the file that was asked for is not this one; empty: it is.
  Loop(Description what, const RunOptions& options, const std::string& config_trouble = {});
  int run();
  bool will_reload() const { return next_.has_value(); }
  std::optional<Description> take_next() { return std::exchange(next_, std::nullopt); }   // a reload was accepted
  const Description& description() const { return what_; }

 private:
  using Answered = std::function<void(CommandAnswer)>;

  void begin();                            // first inputs, threads, timers, signals
  void end();                              // outputs, record, brokers, in this order
  void step(Input input, const Answered& answer = {});
  void take_mail();
  void tick();                             // once a second, or earlier when something is due
  void arm();
  void every_second();
  void look_at_wall();
  void take_snapshot();
  void beat();
  void catch_signals();
  void say_ready();
  void note_input(const Input&);           // to the log, on changes only
  void note_effects(const Effects&) const;
  void add_routes();
  void command(const Request&, const std::string& name, const Answer&);
  void notify_test(const Request&, const Answer&);
  Alerts::Ports alert_ports();
  void tell_people();                      // what became due
  void let_messages_out();                 // at the end, for a moment
  bool making_progress() const;
  std::optional<WallTime> label_now() const;
  void reload(const std::string& who, const Answer&);
  void refuse_reload(const std::vector<Problem>&, const Answer&);
  void tell_about_config();
  void turn_calendar();
  void mind_well_output();
  std::vector<LinkNote> notes() const;     // of the links and of the relay that says the box is well
  std::optional<WallTime> trusted_wall() const;
  WallOffset offset() const;

  const Description what_;
  const std::string state_dir_, site_file_, config_trouble_;
  StateLock lock_;
  boost::asio::io_context io_{1};
  std::atomic<bool> woken_ = false;
  Mailbox mail_;
  Store store_;
  Engine engine_;
  Restored record_;
  TimeStart time_;
  BootClock clock_;
  WallWatch wall_;
  std::atomic<bool> wall_trusted_ = false;
  std::atomic<std::int64_t> wall_minus_engine_ = 0;
  Publisher publisher_;
  Devices devices_;
  Alerts alerts_;
  StoreJournal journal_;
  Executor executor_;
  Router router_;
  std::optional<ControlServer> server_;
  Liveness liveness_;
  Calendar calendar_;
  WellOutput well_;
  std::optional<Description> next_;
  SafeStart safe_start_;
  boost::asio::steady_timer timer_, beat_timer_, reload_timer_;
  boost::asio::signal_set signals_;
  Seq next_input_{1};
  EngineTime began_, next_second_, next_snapshot_;
  bool ready_ = false, stopping_ = false, hangs_told_ = false;
  std::uint64_t refused_told_ = 0;
};

}  // namespace riserkeep
