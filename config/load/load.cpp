#include "config/load/load.h"

#include <algorithm>
#include <exception>
#include <filesystem>
#include <fstream>
#include <sstream>

#include <fmt/format.h>

#include "config/load/checks.h"
#include "config/load/delivery.h"
#include "config/load/document.h"
#include "config/load/params.h"
#include "config/load/people.h"
#include "config/load/places.h"
#include "config/load/systems.h"
#include "config/load/upkeep.h"
#include "config/load/venting.h"
#include "config/load/wiring.h"

namespace riserkeep {

std::string slug(std::string_view name) {
  std::string out;
  for (const char c : name) {
    const bool upper = c >= 'A' && c <= 'Z';
    const bool plain = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9');
    if (plain || upper)
      out += upper ? static_cast<char>(c - 'A' + 'a') : c;
    else if (!out.empty() && out.back() != '-')
      out += '-';
  }
  while (!out.empty() && out.back() == '-') out.pop_back();
  return out;
}

namespace {

void read_format(Section& top) {
  const auto f = top.need("format", "format: 1");
  if (!f) return;
  if (const auto v = read_integer(*f, 1, 1'000'000); v && *v != 1)
    f->error(fmt::format("format {} is not known to this version", *v),
             "write 'format: 1', or install a version that knows it");
}

void read_top(Build& b, const Node& root) {
  const Field whole{&root, &b.problems, ""};
  Section top(whole, "format: 1 and what docs/site-file.md shows");
  if (!whole.is_map()) return;
  read_format(top);
  read_site(b, top);
  read_links(b, top.get("links"));
  read_devices(b, top.get("devices"));
  read_rooms(b, top);
  read_supplies(b, top);
  name_analysers_and_systems(b, top);
  read_analysers(b, top);
  read_venting(b.d.site.venting, top.get("venting"));
  read_rules(b.d.rules.everywhere, top.get("rules"));
  read_systems(b, top);
  read_people(b, top.get("people"));
  read_delivery(b, top);
  read_messages(b.d.site.messages, top.get("messages"));
  read_holidays(b, top.get("holidays"));
  read_texts(b, top.get("texts"));
  read_maintenance(b, top.get("maintenance"));
  read_chores(b, top.get("chores"));
  read_box(b, top.get("box"));
}

bool too_many(const Build& b) {
  const auto& s = b.d.site;
  return std::max({s.channels.size(), s.outputs.size(), s.systems.size(), s.links.size()}) > 4000;
}

}  // namespace

Loaded load_site(std::string file_name, std::string text, Purpose purpose) {
  Problems problems(file_name);
  Loaded out;
  const auto root = parse_document(text, problems);
  if (root) {
    Build b{problems, purpose};
    b.d.file = std::move(file_name);
    b.d.text = std::move(text);
    read_top(b, *root);
    if (too_many(b))
      problems.error({}, "", "more than 4000 points", "one file describes one site");
    else {
      check_names(b);
      check_wiring(b);
      check_ladders(b);
    }
    if (!problems.any_error()) out.description = std::move(b.d);
  }
  out.problems = std::move(problems).sorted();
  return out;
}

Loaded load_site_file(const std::string& path, Purpose purpose) {
  Problems problems(path);
  std::error_code code;
  const auto kind = std::filesystem::status(path, code).type();
  const auto refuse = [&](std::string what, std::string cure) {
    problems.error({}, "", std::move(what), std::move(cure));
    return Loaded{std::nullopt, std::move(problems).sorted()};
  };
  if (kind == std::filesystem::file_type::not_found)
    return refuse("there is no such file", "look at the path; an example is in the documentation's examples folder");
  if (kind == std::filesystem::file_type::directory) return refuse("this is a directory", "name the site file in it");
  std::ifstream in(path, std::ios::binary);
  if (!in) return refuse("the file cannot be read", "look at its owner and permissions");
  std::string text(kLargestFile + 1, '\0');
  in.read(text.data(), static_cast<std::streamsize>(text.size()));
  if (in.bad()) return refuse("reading the file failed", "look at the disk");
  text.resize(static_cast<std::size_t>(in.gcount()));
  return load_site(path, std::move(text), purpose);
}

}  // namespace riserkeep
