// One message to one address by SMTP. The dialogue is listened to, so that a failure can be told from a refusal
// and named in the server's own words.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cstring>

#include "daemon/alerts/transfer.h"

namespace riserkeep {
namespace {

enum class Stage { connecting, greeting, hello, tls, log_in, sender, recipient, data, text };

struct Verb { std::string_view word; Stage stage; };
constexpr std::array<Verb, 7> kVerbs{{{"EHLO", Stage::hello}, {"HELO", Stage::hello}, {"STARTTLS", Stage::tls}, {"AUTH", Stage::log_in},
                                      {"MAIL FROM", Stage::sender}, {"RCPT TO", Stage::recipient}, {"DATA", Stage::data}}};

std::string_view waiting_for(Stage s) {
  switch (s) {
    case Stage::connecting: return "connecting";
    case Stage::greeting: return "waiting for its greeting";
    case Stage::hello: return "waiting for its answer to EHLO";
    case Stage::tls: return "starting TLS";
    case Stage::log_in: return "logging in";
    case Stage::sender: return "naming the sender";
    case Stage::recipient: return "naming the recipient";
    case Stage::data: return "announcing the text";
    case Stage::text: return "waiting for its answer to the text";
  }
  return {};
}

class MailTransfer : public Transfer {
 public:
  MailTransfer(std::uint64_t ticket, MailParcel p) : Transfer(ticket), parcel_(std::move(p)) {}

  std::optional<Outcome> prepare() override {
    const MailServer& s = parcel_.server;
    common(s.uri, "smtp,smtps", s.ca_file, s.time_out);
    set(CURLOPT_USE_SSL, s.tls_required ? long{CURLUSESSL_ALL} : long{CURLUSESSL_NONE});
    set(CURLOPT_SERVER_RESPONSE_TIMEOUT, std::clamp<long>(static_cast<long>(s.time_out.count() / 2000), 2, 30));
    if (!s.user.empty()) {
      std::string why;
      const auto password = read_secret(s.password_file, why);
      if (!password) return Outcome{Outcome::Kind::unreachable, false, "password_file " + why};
      set(CURLOPT_USERNAME, s.user.c_str());
      set(CURLOPT_PASSWORD, password->c_str());
    }
    for (const std::string_view a : {std::string_view{s.from}, std::string_view{parcel_.to}})   // CR LF in an address would be a command of its own
      if (a.find_first_of("\r\n<> ") != std::string_view::npos) return Outcome{Outcome::Kind::refused, false, "not a mail address: " + one_line(a)};
    set(CURLOPT_MAIL_FROM, ("<" + s.from + ">").c_str());
    add_to(recipients_, "<" + parcel_.to + ">");
    set(CURLOPT_MAIL_RCPT, recipients_.get());
    set(CURLOPT_UPLOAD, 1L);
    set(CURLOPT_INFILESIZE_LARGE, static_cast<curl_off_t>(parcel_.text.size()));   // announced as SIZE, RFC 1870
    set(CURLOPT_READFUNCTION, &MailTransfer::read);
    set(CURLOPT_READDATA, this);
    set(CURLOPT_DEBUGFUNCTION, &MailTransfer::listen);
    set(CURLOPT_DEBUGDATA, this);
    set(CURLOPT_VERBOSE, 1L);
    return check_options();
  }

  Outcome result(CURLcode code) override {
    if (code == CURLE_OK) return {Outcome::Kind::delivered, false, {}};
    const int status = reply_code();
    const bool answered = status >= 400;
    const bool open_end = all_read_ && stage_ == Stage::text && !answered;
    if (answered && status != 421 && (stage_ >= Stage::recipient || status == 552))
      return {status >= 500 ? Outcome::Kind::refused : Outcome::Kind::later, false, one_line(reply_)};
    return {Outcome::Kind::unreachable, open_end, said(code, answered)};
  }

 private:
  std::string server() const { return parcel_.server.uri.substr(parcel_.server.uri.find("://") + 3); }

  std::string said(CURLcode code, bool answered) const {
    const std::string name = server();
    switch (code) {
      case CURLE_LOGIN_DENIED:
        return answered ? fmt::format("{} refuses the user or the password: {}", name, one_line(reply_))
                        : fmt::format("{} cannot be logged in to: {}", name, words(code));
      case CURLE_USE_SSL_FAILED:
        return fmt::format("{} offers no STARTTLS, so nothing was sent", name);
      case CURLE_PEER_FAILED_VERIFICATION:
        return fmt::format("the certificate of {} is not good: {}", name, words(code));
      case CURLE_OPERATION_TIMEDOUT:
        return fmt::format("{} is silent: time-out {}", name, waiting_for(stage_));
      default: break;
    }
    if (answered) return fmt::format("{} refuses, {}: {}", name, waiting_for(stage_), one_line(reply_));
    return fmt::format("{}, {}: {}", name, waiting_for(stage_), words(code));
  }

  int reply_code() const {
    int code = 0;
    const auto [end, error] = std::from_chars(reply_.data(), reply_.data() + std::min<std::size_t>(3, reply_.size()), code);
    return error == std::errc{} && end == reply_.data() + 3 ? code : 0;
  }

  static std::size_t read(char* to, std::size_t size, std::size_t count, void* self) {
    auto& me = *static_cast<MailTransfer*>(self);
    const std::size_t n = std::min(size * count, me.parcel_.text.size() - me.read_);
    std::memcpy(to, me.parcel_.text.data() + me.read_, n);
    me.read_ += n;
    me.stage_ = Stage::text;
    if (me.read_ == me.parcel_.text.size()) me.all_read_ = true;
    me.reply_.clear();
    return n;
  }

  static int listen(CURL*, curl_infotype type, char* data, std::size_t size, void* self) {
    auto& me = *static_cast<MailTransfer*>(self);
    const std::string_view line{data, size};
    if (me.leaving_) return 0;             // the answer to a farewell is about nothing
    if (type == CURLINFO_HEADER_OUT && line.starts_with("QUIT")) me.leaving_ = true;
    else if (type == CURLINFO_HEADER_OUT) {
      me.reply_.clear();
      for (const auto& [word, stage] : kVerbs)
        if (line.starts_with(word)) me.stage_ = stage;
    } else if (type == CURLINFO_HEADER_IN && me.reply_.size() < 1000) {
      if (me.stage_ == Stage::connecting) me.stage_ = Stage::greeting;
      me.reply_ += line;
    } else if (type == CURLINFO_TEXT && me.stage_ == Stage::connecting && line.starts_with("Connected to")) {
      me.stage_ = Stage::greeting;
    }
    return 0;
  }

  MailParcel parcel_;
  List recipients_;
  std::size_t read_ = 0;
  bool all_read_ = false, leaving_ = false;
  Stage stage_ = Stage::connecting;
  std::string reply_;                      // to the newest command
};

}  // namespace

std::unique_ptr<Transfer> make_mail(std::uint64_t ticket, MailParcel p) { return std::make_unique<MailTransfer>(ticket, std::move(p)); }

}  // namespace riserkeep
