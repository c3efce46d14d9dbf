// One parcel on its way, over libcurl. Courier's thread only.
#pragma once

#include <curl/curl.h>

#include <chrono>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/alerts/courier.h"

namespace riserkeep {

struct EasyDelete { void operator()(CURL* c) const { curl_easy_cleanup(c); } };
struct ListDelete { void operator()(curl_slist* l) const { curl_slist_free_all(l); } };
using Easy = std::unique_ptr<CURL, EasyDelete>;
using List = std::unique_ptr<curl_slist, ListDelete>;

void add_to(List&, const std::string&);

class Transfer {
 public:
  explicit Transfer(std::uint64_t ticket);
  virtual ~Transfer() = default;
  Transfer(const Transfer&) = delete;
  Transfer& operator=(const Transfer&) = delete;

  // Absent: it may be performed. Else what is in the way, as a password file that cannot be read.
  virtual std::optional<Outcome> prepare() = 0;
  virtual Outcome result(CURLcode) = 0;
  // Ends its connections hard. Without that libcurl, asked to drop a mail in the middle, sends the end of the text
  // (half a message arrives as a whole one) and waits for an answer.
  void cut();
  CURL* handle() const { return easy_.get(); }
  std::uint64_t ticket() const { return ticket_; }

 protected:
  template <class T>
  void set(CURLoption option, T value) {
    if (const CURLcode code = curl_easy_setopt(easy_.get(), option, value); code != CURLE_OK && wrong_ == CURLE_OK) wrong_ = code;
  }
  void common(const std::string& url, const char* protocols, const std::string& ca_file, Duration time_out);
  std::string words(CURLcode) const;       // what libcurl says about it
  std::optional<Outcome> check_options() const;

  Easy easy_;
  CURLcode wrong_ = CURLE_OK;

 private:
  static int opened(void* self, curl_socket_t, curlsocktype);
  static int closed(void* self, curl_socket_t);

  std::uint64_t ticket_;
  std::vector<curl_socket_t> sockets_;
  char error_[CURL_ERROR_SIZE] = {};
};

std::unique_ptr<Transfer> make_mail(std::uint64_t ticket, MailParcel);
std::unique_ptr<Transfer> make_post(std::uint64_t ticket, PostParcel);
std::unique_ptr<Transfer> make_ping(std::uint64_t ticket, PingParcel);

// The first line of a file without its line end; at most 4 KiB. `why`: it cannot be read, or it is empty.
std::optional<std::string> read_secret(const std::string& file, std::string& why);
// For words that come from outside: one line, printable, not endless.
std::string one_line(std::string_view, std::size_t most = 300);

}  // namespace riserkeep
