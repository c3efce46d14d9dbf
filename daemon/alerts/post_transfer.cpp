// Posts and pings by HTTPS.
#include <fmt/format.h>

#include <chrono>

#include "daemon/alerts/hook.h"
#include "daemon/alerts/transfer.h"

namespace riserkeep {
namespace {

std::size_t discard(char*, std::size_t size, std::size_t count, void*) { return size * count; }

// 5xx and silence are the server's trouble; what it will never take is refused; anything else may be mended there.
Outcome outcome_of(long status) {
  if (status >= 200 && status < 300) return {Outcome::Kind::delivered, false, {}};
  const std::string words = fmt::format("HTTP status {}", status);
  if (status >= 500) return {Outcome::Kind::unreachable, false, words};
  const bool never = status == 400 || status == 410 || status == 413 || status == 422;
  return {never ? Outcome::Kind::refused : Outcome::Kind::later, false, words};
}

class HttpTransfer : public Transfer {
 public:
  using Transfer::Transfer;

  Outcome result(CURLcode code) override {
    if (code == CURLE_OK) {
      long status = 0;
      curl_easy_getinfo(handle(), CURLINFO_RESPONSE_CODE, &status);
      return outcome_of(status);
    }
    curl_off_t sent = 0;
    curl_easy_getinfo(handle(), CURLINFO_SIZE_UPLOAD_T, &sent);
    return {Outcome::Kind::unreachable, size_ > 0 && sent >= static_cast<curl_off_t>(size_), words(code)};
  }

 protected:
  void http(const std::string& url, const std::string& ca_file, Duration time_out) {
    common(url, "https", ca_file, time_out);
    set(CURLOPT_FOLLOWLOCATION, 0L);
    set(CURLOPT_DISALLOW_USERNAME_IN_URL, 1L);
    set(CURLOPT_USERAGENT, "riserkeep/" RISERKEEP_VERSION);
    set(CURLOPT_WRITEFUNCTION, &discard);
  }
  std::size_t size_ = 0;                   // of the body
};

class PostTransfer : public HttpTransfer {
 public:
  PostTransfer(std::uint64_t ticket, PostParcel p) : HttpTransfer(ticket), parcel_(std::move(p)) {}

  std::optional<Outcome> prepare() override {
    std::string why;
    const auto secret = read_secret(parcel_.secret_file, why);
    if (!secret) return Outcome{Outcome::Kind::unreachable, false, "secret_file " + why};
    const auto now = std::chrono::duration_cast<seconds>(std::chrono::system_clock::now().time_since_epoch()).count();
    http(parcel_.url, parcel_.ca_file, parcel_.time_out);
    for (const auto& line : hook_headers(*secret, now, parcel_.body, parcel_.idempotency_key)) add_to(headers_, line);
    add_to(headers_, "Expect:");
    set(CURLOPT_HTTPHEADER, headers_.get());
    set(CURLOPT_POST, 1L);
    set(CURLOPT_POSTFIELDSIZE_LARGE, static_cast<curl_off_t>(parcel_.body.size()));
    set(CURLOPT_POSTFIELDS, parcel_.body.data());
    size_ = parcel_.body.size();
    return check_options();
  }

 private:
  PostParcel parcel_;
  List headers_;
};

class PingTransfer : public HttpTransfer {
 public:
  PingTransfer(std::uint64_t ticket, PingParcel p) : HttpTransfer(ticket), parcel_(std::move(p)) {}
  std::optional<Outcome> prepare() override {
    http(parcel_.url, parcel_.ca_file, parcel_.time_out);
    return check_options();
  }

 private:
  PingParcel parcel_;
};

}  // namespace

std::unique_ptr<Transfer> make_post(std::uint64_t ticket, PostParcel p) { return std::make_unique<PostTransfer>(ticket, std::move(p)); }
std::unique_ptr<Transfer> make_ping(std::uint64_t ticket, PingParcel p) { return std::make_unique<PingTransfer>(ticket, std::move(p)); }

}  // namespace riserkeep
