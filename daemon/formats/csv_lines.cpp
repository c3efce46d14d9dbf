#include "daemon/formats/csv_lines.h"

#include <cstring>

namespace riserkeep {
namespace {
constexpr std::size_t kRoom = std::size_t{256} << 10;
constexpr std::size_t kLongest = 4096;
constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";
}  // namespace

bool CsvLines::fill() {
  if (at_end_) return false;
  if (buffer_.empty()) buffer_.resize(kRoom + kLongest);
  if (at_ > 0) {
    std::memmove(buffer_.data(), buffer_.data() + at_, end_ - at_);
    end_ -= at_;
    at_ = 0;
  }
  const std::size_t n = source_(buffer_.data() + end_, buffer_.size() - end_);
  end_ += n;
  at_end_ = n == 0;
  return n > 0;
}

std::optional<std::string_view> CsvLines::next() {
  if (!trouble_.empty()) return std::nullopt;
  std::size_t searched = 0;
  for (;;) {
    const char* from = buffer_.data() + at_;
    const std::size_t have = end_ - at_;
    const void* hit = have > searched ? std::memchr(from + searched, '\n', have - searched) : nullptr;
    if (hit) {
      const auto length = static_cast<std::size_t>(static_cast<const char*>(hit) - from);
      at_ += length + 1;
      return checked({from, length});
    }
    searched = have;
    if (have > kLongest) return checked({from, have});
    if (fill()) continue;
    if (end_ == at_) return std::nullopt;
    cut_ = true;
    at_ = end_;
    return checked({buffer_.data() + end_ - have, have});
  }
}

std::optional<std::string_view> CsvLines::checked(std::string_view line) {
  ++number_;
  if (number_ == 1 && line.starts_with(kByteOrderMark)) line.remove_prefix(kByteOrderMark.size());
  if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  if (!line.empty() && std::memchr(line.data(), 0, line.size()))
    trouble_ = "not text: it holds zero bytes. Give the CSV itself, unpacked and in UTF-8";
  else if (line.size() > kLongest)
    trouble_ = "a line of more than 4096 characters: this is no telemetry CSV, or its line breaks are lost";
  if (!trouble_.empty()) return std::nullopt;
  return line;
}

std::size_t CsvLines::split(std::string_view line, std::array<std::string_view, 5>& fields) {
  if (std::memchr(line.data(), '"', line.size())) return split_quoted(line, fields);
  std::size_t n = 0;
  const char* from = line.data();
  const char* const end = from + line.size();
  for (;;) {
    const void* hit = std::memchr(from, ',', static_cast<std::size_t>(end - from));
    const char* to = hit ? static_cast<const char*>(hit) : end;
    if (n < fields.size()) fields[n] = {from, static_cast<std::size_t>(to - from)};
    ++n;
    if (!hit) return n;
    from = to + 1;
  }
}

std::size_t CsvLines::split_quoted(std::string_view line, std::array<std::string_view, 5>& fields) {
  std::size_t n = 0;
  std::string field;
  bool inside = false;
  for (std::size_t i = 0; i <= line.size(); ++i) {
    const bool last = i == line.size();
    if (last || (line[i] == ',' && !inside)) {
      if (n < fields.size()) fields[n] = unquoted_[n] = std::move(field);
      field.clear();
      ++n;
    } else if (line[i] == '"' && inside && i + 1 < line.size() && line[i + 1] == '"') {
      field += line[i++];
    } else if (line[i] == '"') {
      inside = !inside;
    } else {
      field += line[i];
    }
  }
  return n;
}

std::string printable(std::string_view s) {
  std::string out;
  for (const char c : s.substr(0, 60)) out += c >= 0x20 && c < 0x7f ? c : '?';
  if (s.size() > 60) out += "...";
  return out;
}

}  // namespace riserkeep
