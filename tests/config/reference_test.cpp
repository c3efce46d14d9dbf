// The documents that follow from the code are up to date. RISERKEEP_WRITE_DOCS=1 writes them anew.
#include <doctest/doctest.h>

#include <cstdlib>
#include <fstream>
#include <iterator>
#include <string>

#include "config/reference.h"

using namespace riserkeep;

namespace {

const std::string kDocs = RISERKEEP_SOURCE_DIR "/docs/";

std::string read_all(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

// Between "<!-- begin NAME -->" and "<!-- end NAME -->".
std::string with_section(const std::string& text, const std::string& name, const std::string& body) {
  const std::string begin = "<!-- begin " + name + " -->\n", end = "<!-- end " + name + " -->";
  const auto from = text.find(begin), to = text.find(end);
  REQUIRE(from != std::string::npos);
  REQUIRE(to != std::string::npos);
  return text.substr(0, from + begin.size()) + body + text.substr(to);
}

void compare(const std::string& path, const std::string& wanted) {
  if (std::getenv("RISERKEEP_WRITE_DOCS")) std::ofstream(path, std::ios::binary) << wanted;
  const bool same = read_all(path) == wanted;
  CHECK_MESSAGE(same, path << " is not up to date: run the config tests with RISERKEEP_WRITE_DOCS=1");
}

}  // namespace

TEST_CASE("the JSON Schema of the site file follows the code") {
  compare(kDocs + "formats/site.schema.json", site_schema());
}

TEST_CASE("the tables of the site file's page follow the code") {
  const std::string path = kDocs + "site-file.md";
  std::string text = with_section(read_all(path), "venting",
                                  "| key | default | allowed | meaning |\n|---|---|---|---|\n" + venting_reference());
  text = with_section(text, "rules",
                      "| rule | key | default | allowed | meaning |\n|---|---|---|---|---|\n" + rules_reference());
  text = with_section(text, "messages",
                      "| key | default | allowed | meaning |\n|---|---|---|---|\n" + messages_reference());
  compare(path, text);
}
