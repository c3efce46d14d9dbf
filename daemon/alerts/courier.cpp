#include "daemon/alerts/courier.h"

#include <curl/curl.h>
#include <spdlog/spdlog.h>

#include <map>
#include <mutex>
#include <new>
#include <stdexcept>
#include <thread>
#include <utility>
#include <vector>

#include "daemon/alerts/transfer.h"

namespace riserkeep {
namespace {

struct MultiDelete { void operator()(CURLM* m) const { curl_multi_cleanup(m); } };

std::unique_ptr<Transfer> transfer_of(std::uint64_t ticket, Parcel parcel) {
  if (auto* mail = std::get_if<MailParcel>(&parcel)) return make_mail(ticket, std::move(*mail));
  if (auto* post = std::get_if<PostParcel>(&parcel)) return make_post(ticket, std::move(*post));
  return make_ping(ticket, std::get<PingParcel>(std::move(parcel)));
}

}  // namespace

class Courier::Worker {
 public:
  explicit Worker(std::function<void(std::uint64_t, Outcome)> done) : done_(std::move(done)) {
    if (curl_global_init(CURL_GLOBAL_DEFAULT) != CURLE_OK) throw std::runtime_error("libcurl cannot be set up");
    multi_.reset(curl_multi_init());
    if (!multi_) throw std::bad_alloc{};
  }
  ~Worker() {
    stop(std::chrono::milliseconds(0));
    multi_.reset();
    curl_global_cleanup();
  }
  Worker(const Worker&) = delete;
  Worker& operator=(const Worker&) = delete;

  void start() { thread_ = std::thread{[this] { run(); }}; }

  void send(std::uint64_t ticket, Parcel parcel) {
    {
      const std::lock_guard lock{mutex_};
      if (stopping_) return;
      inbox_.emplace_back(ticket, std::move(parcel));
    }
    curl_multi_wakeup(multi_.get());
  }

  void stop(std::chrono::milliseconds grace) {
    if (!thread_.joinable()) return;
    {
      const std::lock_guard lock{mutex_};
      stopping_ = true;
      inbox_.clear();
      until_ = std::chrono::steady_clock::now() + grace;
    }
    curl_multi_wakeup(multi_.get());
    thread_.join();
  }

 private:
  using Item = std::pair<std::uint64_t, Parcel>;

  void run() {
    while (take()) {
      int running = 0;
      curl_multi_perform(multi_.get(), &running);
      finish_what_ended();
      curl_multi_poll(multi_.get(), nullptr, 0, stopping_seen_ ? 50 : 1000, nullptr);
    }
    for (auto& [handle, transfer] : under_way_) {
      transfer->cut();
      curl_multi_remove_handle(multi_.get(), handle);
    }
    under_way_.clear();
  }

  // False: it is time to end.
  bool take() {
    std::vector<Item> fresh;
    {
      const std::lock_guard lock{mutex_};
      fresh.swap(inbox_);
      stopping_seen_ = stopping_;
      if (stopping_ && (under_way_.empty() || std::chrono::steady_clock::now() >= until_)) return false;
    }
    for (auto& [ticket, parcel] : fresh) begin(ticket, std::move(parcel));
    return true;
  }

  void begin(std::uint64_t ticket, Parcel parcel) {
    try {
      auto transfer = transfer_of(ticket, std::move(parcel));
      if (const auto hindered = transfer->prepare()) return done_(ticket, *hindered);
      CURL* handle = transfer->handle();
      if (const CURLMcode code = curl_multi_add_handle(multi_.get(), handle); code != CURLM_OK)
        return done_(ticket, {Outcome::Kind::unreachable, false, curl_multi_strerror(code)});
      under_way_.emplace(handle, std::move(transfer));
    } catch (const std::exception& e) {
      done_(ticket, {Outcome::Kind::unreachable, false, e.what()});
    }
  }

  void finish_what_ended() {
    int left = 0;
    while (const CURLMsg* m = curl_multi_info_read(multi_.get(), &left)) {
      if (m->msg != CURLMSG_DONE) continue;
      const CURLcode code = m->data.result;
      CURL* const handle = m->easy_handle;
      curl_multi_remove_handle(multi_.get(), handle);
      auto node = under_way_.extract(handle);
      if (!node.empty()) done_(node.mapped()->ticket(), node.mapped()->result(code));
    }
  }

  std::function<void(std::uint64_t, Outcome)> done_;
  std::unique_ptr<CURLM, MultiDelete> multi_;
  std::mutex mutex_;
  std::vector<Item> inbox_;
  bool stopping_ = false;
  std::chrono::steady_clock::time_point until_;
  std::map<CURL*, std::unique_ptr<Transfer>> under_way_;   // the thread's own
  bool stopping_seen_ = false;
  std::thread thread_;
};

Courier::Courier(std::function<void(std::uint64_t, Outcome)> done) : worker_(std::make_unique<Worker>(std::move(done))) {}
Courier::~Courier() = default;
void Courier::start() { worker_->start(); }
void Courier::send(std::uint64_t ticket, Parcel parcel) { worker_->send(ticket, std::move(parcel)); }
void Courier::stop(std::chrono::milliseconds grace) { worker_->stop(grace); }

}  // namespace riserkeep
