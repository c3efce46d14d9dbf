// Sends one mail through the program's own courier, for the tests with real and ill-behaved servers.
//   mail_sender SERVER FROM TO [size=BYTES] [user=NAME] [password_file=F] [ca_file=F] [tls=none] [time_out=MS] [bare_lf=1]
// Prints one line: outcome, whether it may have arrived, words. Exit code 0: delivered.
#include <fmt/format.h>

#include <condition_variable>
#include <cstdio>
#include <map>
#include <mutex>
#include <string>

#include "daemon/alerts/courier.h"
#include "daemon/alerts/mail.h"

using namespace riserkeep;

namespace {

const char* name(Outcome::Kind k) {
  switch (k) {
    case Outcome::Kind::delivered: return "delivered";
    case Outcome::Kind::refused: return "refused";
    case Outcome::Kind::later: return "later";
    case Outcome::Kind::unreachable: return "unreachable";
  }
  return "";
}

// A mail of exactly so many bytes, lines that begin with a dot among them.
std::string padded(std::string text, std::size_t size) {
  while (text.size() + 72 < size) text += "." + std::string(69, 'x') + "\r\n";
  if (text.size() + 2 < size) text += std::string(size - text.size() - 2, 'y') + "\r\n";
  return text;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 4) return 2;
  std::map<std::string, std::string> options;
  for (int i = 4; i < argc; ++i) {
    const std::string word = argv[i];
    options[word.substr(0, word.find('='))] = word.substr(word.find('=') + 1);
  }
  MailParcel parcel;
  parcel.server = {.uri = argv[1], .from = argv[2], .user = options["user"], .password_file = options["password_file"],
                   .ca_file = options["ca_file"], .tls_required = options["tls"] != "none",
                   .time_out = Duration{options.contains("time_out") ? std::stol(options["time_out"]) : 15'000}};
  parcel.to = argv[3];
  Message m;
  m.notice = 7;
  m.person = "night";
  m.wall = WallTime{1'764'065'527'000};
  m.place_name = "Dépôt";
  m.subject = "Dépôt: air is low";
  m.short_text = "HIGH Depot: air is low. Check feed and drains. 7K6";
  m.long_text = "The air in Dépôt is low.\n.a line with a dot\n..two dots\nRead the gauge first.";
  m.references = {"7K6"};
  parcel.text = mail_text(m, {ReachBy::mail, parcel.to}, parcel.server.from, {"QM-014", "Quillmere Storehouse", "America/Chicago"}, {});
  if (options.contains("size")) parcel.text = padded(std::move(parcel.text), std::stoul(options["size"]));

  std::mutex mutex;
  std::condition_variable ended;
  bool done = false;
  Outcome outcome;
  Courier courier([&](std::uint64_t, Outcome o) {
    const std::lock_guard lock{mutex};
    outcome = std::move(o);
    done = true;
    ended.notify_one();
  });
  courier.start();
  courier.send(1, std::move(parcel));
  {
    std::unique_lock lock{mutex};
    ended.wait_for(lock, std::chrono::seconds(50), [&] { return done; });
  }
  courier.stop(std::chrono::milliseconds(0));
  if (!done) return 3;
  fmt::print("{} {} {}\n", name(outcome.kind), outcome.may_have_arrived ? "maybe" : "no", outcome.words);
  return outcome.kind == Outcome::Kind::delivered ? 0 : 1;
}
