// Lines and fields of an RFC 4180 file from a stream, without copying: one buffer, memchr.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace riserkeep {

class CsvLines {
 public:
  using Source = std::function<std::size_t(char* into, std::size_t room)>;
  explicit CsvLines(Source source) : source_(std::move(source)) {}

  // Without its line break (LF or CRLF); valid until the next call. Absent at the end, or when trouble() says
  // what is wrong: a line of more than 4096 bytes, or bytes that are no text.
  std::optional<std::string_view> next();
  std::string_view trouble() const { return trouble_; }
  std::uint64_t number() const { return number_; }     // of the line given last, from 1
  bool last_is_cut() const { return cut_; }            // the file ended without a line break after it

  // The number of fields, which may be more than fit; quoted fields (RFC 4180) are taken out of their quotes.
  std::size_t split(std::string_view line, std::array<std::string_view, 5>& fields);

 private:
  bool fill();
  std::size_t split_quoted(std::string_view line, std::array<std::string_view, 5>& fields);
  std::optional<std::string_view> checked(std::string_view line);

  Source source_;
  std::vector<char> buffer_;
  std::size_t at_ = 0, end_ = 0;
  std::uint64_t number_ = 0;
  bool at_end_ = false, cut_ = false;
  std::string trouble_;
  std::array<std::string, 5> unquoted_;
};

// For messages: at most 60 characters, anything that is no plain ASCII as '?'.
std::string printable(std::string_view);

}  // namespace riserkeep
