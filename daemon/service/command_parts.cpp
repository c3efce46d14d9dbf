#include "daemon/service/command_parts.h"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "daemon/service/commands.h"

namespace riserkeep::command {

std::string text_of(const Json& body, const char* key, std::size_t most, bool compulsory) {
  const auto it = body.find(key);
  if (it == body.end() || it->is_null()) {
    if (compulsory) throw Wrong(fmt::format("\"{}\" is missing", key));
    return {};
  }
  if (!it->is_string()) throw Wrong(fmt::format("\"{}\" must be text", key));
  auto text = it->get<std::string>();
  if (compulsory && text.find_first_not_of(' ') == std::string::npos) throw Wrong(fmt::format("\"{}\" is empty", key));
  if (text.size() > most) throw Wrong(fmt::format("\"{}\" is longer than {} bytes", key, most));
  for (const char c : text)
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f)
      throw Wrong(fmt::format("\"{}\" has a control character in it", key));
  return text;
}

std::optional<double> number_of(const Json& body, const char* key) {
  const auto it = body.find(key);
  if (it == body.end() || it->is_null()) return std::nullopt;
  if (!it->is_number() || !std::isfinite(it->get<double>())) throw Wrong(fmt::format("\"{}\" must be a number", key));
  return it->get<double>();
}

bool flag_of(const Json& body, const char* key, std::optional<bool> fallback) {
  const auto it = body.find(key);
  if (it == body.end() && fallback) return *fallback;
  if (it == body.end() || !it->is_boolean()) throw Wrong(fmt::format("\"{}\" must be true or false", key));
  return it->get<bool>();
}

std::string ids_of(const Site& site, bool analysers) {
  std::string out;
  for (const auto& s : site.systems) out += fmt::format("{}{}", out.empty() ? "" : ", ", s.id);
  if (analysers)
    for (const auto& a : site.analysers) out += fmt::format(", {}", a.id);
  return out;
}

SystemId system_of(const Site& site, const Json& body) {
  const auto name = text_of(body, "system", 200);
  if (const auto found = find_system(site, name)) return *found;
  throw Wrong(no_such_system(site, name));
}

PlaceId place_of(const Site& site, const Json& body) {
  const auto name = text_of(body, "place", 200);
  if (const auto system = find_system(site, name)) return *system;
  if (const auto place = find_place(site, name)) return *place;
  throw Wrong(fmt::format("there is no place \"{}\"; there are: {}, and the site file's rooms, supplies and links", name, ids_of(site, true)));
}

}  // namespace riserkeep::command
