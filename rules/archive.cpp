#include "rules/archive.h"

#include <boost/crc.hpp>

namespace riserkeep {
namespace {

std::uint32_t crc_of(std::string_view bytes) {
  boost::crc_32_type crc;
  crc.process_bytes(bytes.data(), bytes.size());
  return crc.checksum();
}

struct Head { std::uint32_t id; std::uint32_t version; std::uint32_t length; std::uint32_t crc; };

}  // namespace

Archive Archive::from_raw(std::string bytes) {
  Archive a;
  a.loading_ = true;
  a.bytes_ = std::move(bytes);
  return a;
}

Archive Archive::loading(std::string bytes) {
  Archive a = from_raw(std::move(bytes));
  while (a.left() >= sizeof(Head)) {
    Head h{};
    a.raw(h);
    if (h.length > a.left()) break;
    if (crc_of(std::string_view{a.bytes_}.substr(a.at_, h.length)) == h.crc)
      a.index_.push_back({h.id, static_cast<std::uint16_t>(h.version), a.at_, h.length});
    a.at_ += h.length;
  }
  return a;
}

void Archive::append_section(std::uint32_t id, std::uint16_t version, std::string body) {
  Head h{id, version, static_cast<std::uint32_t>(body.size()), crc_of(body)};
  raw(h);
  bytes_ += body;
}

std::optional<std::string> Archive::find_section(std::uint32_t id, std::uint16_t version) {
  for (const Section& s : index_)
    if (s.id == id && s.version == version) return bytes_.substr(s.at, s.length);
  return std::nullopt;
}

std::size_t Archive::count(std::size_t have) {
  auto n = static_cast<std::uint32_t>(have);
  raw(n);
  if (!loading_) return have;
  if (!ok_ || n > left()) { ok_ = false; return 0; }
  return n;
}

}  // namespace riserkeep
