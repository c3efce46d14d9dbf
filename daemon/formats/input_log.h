// Stamped inputs: as JSON Lines (exact replay; docs/formats/input-log.md) and packed (the journal's tail).
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rules/input.h"
#include "rules/site.h"

namespace riserkeep {

// First line of an input log. A replay with another configuration than `config_sha256` is not exact.
struct InputLogHeader {
  int version = 1;
  std::string site, config_sha256;
  std::optional<std::string> snapshot;  // what Engine::keep saved, before the first input
  std::uint64_t first_event_seq = 1;    // of the first event that these inputs cause
  std::vector<std::string> channels, outputs, links;  // what the indices mean: "loading-dock/pressure"
};

InputLogHeader input_log_header(const Site&, std::string config_sha256, std::optional<std::string> snapshot,
                                std::uint64_t first_event_seq);
std::string input_log_line(const InputLogHeader&);   // without the line break
std::string input_log_line(const Stamped&);
bool looks_like_input_log(std::string_view first_bytes);

// Reads line by line in constant memory. Whatever the bytes, it ends in error() and never in an exception.
class InputLogReader {
 public:
  using Source = std::function<std::size_t(char* into, std::size_t room)>;

  InputLogReader(Source source, const Site& site, std::string name = "input log");
  ~InputLogReader();
  InputLogReader(const InputLogReader&) = delete;
  InputLogReader& operator=(const InputLogReader&) = delete;

  const std::optional<InputLogHeader>& header() const;  // absent: see error()
  std::optional<Stamped> next();
  const std::optional<std::string>& error() const;

 private:
  struct Parts;
  std::unique_ptr<Parts> parts_;
};

// One input by itself. Reading advances `from`; false: damaged (then `from` and `out` are unspecified).
void append_stamped(std::string& to, const Stamped&);
bool read_stamped(std::string_view& from, Stamped& out);

// Many in a row, each stored as the difference to the one before: about 9 bytes a reading.
class StampedPacker {
 public:
  void add(const Stamped&);
  const std::string& bytes() const { return bytes_; }
  std::string take();                  // and start anew

 private:
  std::string bytes_;
  std::uint64_t seq_ = 0;
  std::int64_t at_ = 0;
};
std::optional<std::vector<Stamped>> unpack_stamped(std::string_view bytes);

// Every index of the input is within the site's lists.
bool fits(const Site&, const Input&);

std::string base64(std::string_view bytes);
std::optional<std::string> from_base64(std::string_view text);

}  // namespace riserkeep
