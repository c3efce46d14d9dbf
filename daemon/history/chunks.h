// One channel's samples packed: about two bytes each. Layout in docs/formats/journal.md, "Chunks".
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rules/reading.h"

namespace riserkeep {

struct Sample {
  std::int64_t ms = 0;                // engine time
  std::optional<std::int64_t> ticks;
  Quality quality = Quality::bad;
  Why why = Why::none;
  bool operator==(const Sample&) const = default;
};

// Packs while samples arrive, so that an hour in memory costs no more than an hour on the disk.
class ChunkPacker {
 public:
  void add(const Sample&);
  bool empty() const { return count_ == 0; }
  std::uint32_t count() const { return count_; }
  std::int64_t first_ms() const { return first_ms_; }   // the least and the greatest, whatever the order
  std::int64_t last_ms() const { return last_ms_; }
  std::size_t size() const { return bytes_.size(); }
  std::string take();                                   // the chunk; empty again

 private:
  std::string bytes_;
  std::uint32_t count_ = 0;
  std::int64_t first_ms_ = 0, last_ms_ = 0;
  std::int64_t ms_ = 0, step_ = 0, ticks_ = 0;          // of the sample before
  std::uint8_t state_ = 0;
};

// Absent when the bytes are no chunk.
std::optional<std::vector<Sample>> unpack_chunk(std::string_view bytes);

}  // namespace riserkeep
