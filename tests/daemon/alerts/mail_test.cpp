#include "daemon/alerts/mail.h"

#include <doctest/doctest.h>

#include "daemon/alerts/hook.h"
#include "daemon/formats/hmac.h"

using namespace riserkeep;

namespace {

const SiteNames kSite{"QM-014", "Quillmere Storehouse", "America/Chicago"};

Message low_air() {
  Message m;
  m.notice = 41;
  m.person = "night";
  m.decided = EngineTime{seconds(9)};
  m.wall = WallTime{1'795'601'527'000};     // 2026-11-25T10:12:07Z
  m.priority = Priority::high;
  m.place = "loading-dock";
  m.place_name = "Loading dock";
  m.subject = "HIGH Loading dock: air is low";
  m.short_text = "HIGH Loading dock: air is low: 27.9 psi, limit 31.0. Check feed and drains. 7K6";
  m.long_text = "The air is low.\nRead the air gauge.";
  m.references = {"7K6"};
  return m;
}

std::size_t count(const std::string& text, const std::string& part) {
  std::size_t n = 0;
  for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++n;
  return n;
}

}  // namespace

TEST_CASE("a mail carries the time of the decision, the site, how to acknowledge and the link") {
  const std::string text = mail_text(low_air(), {ReachBy::mail, "night@example.org"}, "box@example.org", kSite,
                                     {false, true, {"https://box.example.org/ack/abc.def"}});
  CHECK(text ==
        "Date: Wed, 25 Nov 2026 04:12:07 -0600\r\n"
        "From: riserkeep QM-014 <box@example.org>\r\n"
        "To: <night@example.org>\r\n"
        "Subject: HIGH Loading dock: air is low\r\n"
        "Message-ID: <QM-014.41.9000.night@example.org>\r\n"
        "Auto-Submitted: auto-generated\r\n"
        "Importance: high\r\n"
        "MIME-Version: 1.0\r\n"
        "Content-Type: text/plain; charset=utf-8\r\n"
        "Content-Transfer-Encoding: 7bit\r\n"
        "\r\n"
        "The air is low.\r\nRead the air gauge.\r\n\r\n"
        "Site: Quillmere Storehouse (QM-014)\r\n"
        "Place: Loading dock\r\n"
        "Time: Wed 25 Nov 2026 04:12:07 CST\r\n"
        "Acknowledge 7K6: riserkeep ack 7K6 --by NAME\r\n"
        "  or by this link, once, for you alone: https://box.example.org/ack/abc.def\r\n"
        "\r\n"
        "Supplementary: not a listed fire-alarm control unit. The fire panel and local code rule.\r\n");
}

TEST_CASE("a repeat says so and keeps its id, so that both can be matched") {
  const Reach to{ReachBy::mail, "night@example.org"};
  const std::string once = mail_text(low_air(), to, "box@example.org", kSite, {});
  const std::string again = mail_text(low_air(), to, "box@example.org", kSite, {true, false, {}});
  CHECK(again.find("This may be a repeat") != std::string::npos);
  CHECK(again.find("Not stored") != std::string::npos);
  CHECK(once.find("repeat") == std::string::npos);
  CHECK(message_id(low_air(), "box@example.org", kSite) == "<QM-014.41.9000.night@example.org>");
}

TEST_CASE("a text message by mail is the short text alone, within 160 characters also when it may be a repeat") {
  Message m = low_air();
  const Reach to{ReachBy::sms_by_mail, "5550100@text.example"};
  const auto body = [](const std::string& text) { return text.substr(text.find("\r\n\r\n") + 4); };
  const std::string text = mail_text(m, to, "box@example.org", kSite, {});
  CHECK(body(text) == m.short_text + "\r\n");
  CHECK(text.find("Subject:") == std::string::npos);
  m.short_text = std::string(160, 'a');
  const std::string repeat = body(mail_text(m, to, "box@example.org", kSite, {true, true, {}}));
  CHECK(repeat.size() == 162);
  CHECK(repeat.ends_with("(may be a repeat)\r\n"));
}

TEST_CASE("no text makes a line end of its own, and no mail reaches 64 KiB") {
  Message m = low_air();
  m.subject = "Dock\r\nBcc: other@example.org";
  m.long_text = "a\r\nb\nc\rd " + std::string(200'000, 'x') + "\xC3\xA9";
  const std::string text = mail_text(m, {ReachBy::mail, "night@example.org"}, "box@example.org", kSite, {});
  CHECK(text.find("\nBcc:") == std::string::npos);
  CHECK(count(text, "\n") == count(text, "\r\n"));
  CHECK(count(text, "\r") == count(text, "\r\n"));
  CHECK(text.size() < 65'536);
  CHECK(text.find("[cut: too long for a mail") != std::string::npos);
  for (std::size_t at = 0, end = 0; (end = text.find("\r\n", at)) != std::string::npos; at = end + 2) CHECK(end - at <= 998);
}

TEST_CASE("headers beyond ASCII become encoded words of 75 characters at most, cut between letters (RFC 2047 section 2)") {
  CHECK(header_text("HIGH Dock, west: air is low") == "HIGH Dock, west: air is low");
  CHECK(header_text("Dock, west", true) == "=?utf-8?B?RG9jaywgd2VzdA==?=");
  CHECK(header_text("D\xC3\xA9p\xC3\xB4t") == "=?utf-8?B?RMOpcMO0dA==?=");
  std::string umlauts;
  for (int i = 0; i < 60; ++i) umlauts += "\xC3\xBC";
  const std::string words = header_text(umlauts);
  CHECK(count(words, "=?utf-8?B?") == 3);
  for (std::size_t at = 0; at < words.size();) {
    const auto end = std::min(words.size(), words.find("\r\n ", at));
    CHECK(end - at <= 75);
    at = end + 3;
  }
}

TEST_CASE("quoted-printable as in RFC 2045 section 6.7") {
  CHECK(quoted_printable("a=b\n") == "a=3Db\r\n");
  CHECK(quoted_printable("D\xC3\xA9p\xC3\xB4t \nnext") == "D=C3=A9p=C3=B4t=20\r\nnext\r\n");
  const std::string longer = quoted_printable(std::string(300, 'x'));
  for (std::size_t at = 0, end = 0; (end = longer.find("\r\n", at)) != std::string::npos; at = end + 2) CHECK(end - at <= 76);
  CHECK(count(longer, "=\r\n") == 4);
}

TEST_CASE("HMAC-SHA256 as in RFC 4231 section 4.3 and 4.2") {
  CHECK(hex(hmac_sha256("Jefe", "what do ya want for nothing?")) == "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843");
  CHECK(hex(hmac_sha256(std::string(20, '\x0b'), "Hi There")) == "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7");
}

TEST_CASE("a post is signed over time and body, and a repeat has the key of the first") {
  const std::string body = hook_body(low_air(), kSite, {true, true, {}});
  CHECK(body.starts_with("{\"format\": 1, \"site\": {\"id\": \"QM-014\""));
  CHECK(body.find("\"may_be_a_repeat\": true") != std::string::npos);
  CHECK(body.find("\"time\": \"2026-11-25T10:12:07.000Z\"") != std::string::npos);
  CHECK(hook_key(low_air(), kSite) == "QM-014-41-9000-night");
  const auto headers = hook_headers("key", 1'764'065'527, "{}", "k");
  REQUIRE(headers.size() == 4);
  CHECK(headers[1] == "Riserkeep-Time: 1764065527");
  CHECK(headers[2] == "Riserkeep-Signature: sha256=" + hex(hmac_sha256("key", "1764065527.{}")));
}
