#include "daemon/history/chunks.h"

#include <algorithm>

#include "daemon/formats/varint.h"

namespace riserkeep {
namespace {

constexpr char kVersion = 1;

// Quality, reason and "has a value" in one byte; most samples share it with the one before.
std::uint8_t state_of(const Sample& s) {
  return static_cast<std::uint8_t>(static_cast<unsigned>(s.quality) | static_cast<unsigned>(s.why) << 2 |
                                   (s.ticks ? 0x80u : 0u));
}

constexpr std::uint8_t kUsual = 0x80;  // good, no reason, a value

}  // namespace

void ChunkPacker::add(const Sample& s) {
  if (count_ == 0) {
    bytes_.assign(1, kVersion);
    first_ms_ = last_ms_ = s.ms;
    ms_ = step_ = ticks_ = 0;
    state_ = kUsual;
  }
  const std::int64_t step = wrapping_sub(s.ms, ms_);
  const std::uint64_t turn = fold(wrapping_sub(step, step_));
  const std::uint8_t state = state_of(s);
  const bool changed = state != state_;
  // The lowest bit says that a state byte follows; a turn too large for the shift travels on its own.
  const bool wide = turn >> 62 != 0;
  put_varint(bytes_, (wide ? 0u : (turn + 1) << 1) | (changed ? 1u : 0u));
  if (wide) put_varint(bytes_, turn);
  if (changed) bytes_ += static_cast<char>(state);
  if (s.ticks) {
    put_signed(bytes_, wrapping_sub(*s.ticks, ticks_));
    ticks_ = *s.ticks;
  }
  first_ms_ = std::min(first_ms_, s.ms);
  last_ms_ = std::max(last_ms_, s.ms);
  ms_ = s.ms;
  step_ = count_ == 0 ? 0 : step;
  state_ = state;
  ++count_;
}

std::string ChunkPacker::take() {
  count_ = 0;
  std::string out;
  out.swap(bytes_);
  return out;
}

namespace {

// What the packer remembers of the sample before, replayed.
struct Before {
  std::int64_t ms = 0, step = 0, ticks = 0;
  std::uint8_t state = kUsual;
};

bool read_sample(std::string_view& from, Before& before, bool first, Sample& out) {
  const auto token = get_varint(from);
  if (!token) return false;
  const auto turn = *token >> 1 == 0 ? get_varint(from) : std::optional{(*token >> 1) - 1};
  if (!turn) return false;
  const std::int64_t step = wrapping_add(before.step, unfold(*turn));
  if ((*token & 1) != 0) {
    if (from.empty()) return false;
    before.state = static_cast<std::uint8_t>(from[0]);
    from.remove_prefix(1);
  }
  const unsigned quality = before.state & 3u, why = before.state >> 2 & 31u;
  if (quality > static_cast<unsigned>(Quality::bad) || why > static_cast<unsigned>(Why::link_lost)) return false;
  out = {wrapping_add(before.ms, step), std::nullopt, static_cast<Quality>(quality), static_cast<Why>(why)};
  if ((before.state & 0x80u) != 0) {
    const auto change = get_varint(from);
    if (!change) return false;
    out.ticks = before.ticks = wrapping_add(before.ticks, unfold(*change));
  }
  before.ms = out.ms;
  before.step = first ? 0 : step;
  return true;
}

}  // namespace

std::optional<std::vector<Sample>> unpack_chunk(std::string_view bytes) {
  if (bytes.empty() || bytes[0] != kVersion) return std::nullopt;
  bytes.remove_prefix(1);
  std::vector<Sample> out;
  Before before;
  while (!bytes.empty()) {
    Sample s;
    if (!read_sample(bytes, before, out.empty(), s)) return std::nullopt;
    out.push_back(s);
  }
  return out;
}

}  // namespace riserkeep
