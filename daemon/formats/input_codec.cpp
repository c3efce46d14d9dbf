// The packed form of inputs: variable-length integers, low seven bits first; signed ones folded (zigzag).
#include <array>
#include <bit>
#include <cstring>
#include <utility>

#include "daemon/formats/input_fields.h"
#include "daemon/formats/input_log.h"
#include "daemon/formats/varint.h"

namespace riserkeep {
namespace {

class Packer {
 public:
  Packer(std::string& to, std::int64_t base) : to_(to), base_(base) {}

  void operator()(std::string_view, bool v) { to_ += v ? '\1' : '\0'; }
  void operator()(std::string_view, std::uint16_t v) { put_varint(to_, v); }
  void operator()(std::string_view, std::int64_t v) { put_signed(to_, v); }
  void operator()(std::string_view, std::int32_t v) { put_signed(to_, v); }
  void operator()(std::string_view, double v) {
    const auto bits = std::bit_cast<std::array<char, sizeof v>>(v);
    to_.append(bits.data(), bits.size());
  }
  void operator()(std::string_view, OxygenFraction v) { (*this)("", v.fraction()); }
  void operator()(std::string_view, const std::string& v) { put_varint(to_, v.size()); to_ += v; }
  void operator()(std::string_view, EngineTime v) { put_signed(to_, wrapping_sub(v.time_since_epoch().count(), base_)); }
  void operator()(std::string_view, OrderNo v) { put_varint(to_, static_cast<std::uint64_t>(v)); }
  template <class T> void operator()(std::string_view, Id<T> v) { put_varint(to_, v.index); }
  template <class E> requires std::is_enum_v<E>
  void operator()(std::string_view, E v) { to_ += static_cast<char>(v); }
  template <class T> void operator()(std::string_view, const std::optional<T>& v) {
    (*this)("", v.has_value());
    if (v) (*this)("", *v);
  }
  template <class... T> void operator()(std::string_view, std::variant<T...>& v) {
    to_ += static_cast<char>(v.index());
    std::visit([this](auto& x) { describe(*this, x); }, v);
  }
  void operator()(std::string_view, PlaceId& v) { describe(*this, v); }

 private:
  std::string& to_;
  std::int64_t base_;
};

class Unpacker {
 public:
  Unpacker(std::string_view& from, std::int64_t base) : from_(from), base_(base) {}
  bool ok() const { return ok_; }

  void operator()(std::string_view, bool& v) { v = byte() != 0; }
  void operator()(std::string_view, std::uint16_t& v) {
    const std::uint64_t n = varint();
    if (n > UINT16_MAX) ok_ = false;
    v = static_cast<std::uint16_t>(n);
  }
  void operator()(std::string_view, std::int64_t& v) { v = unfold(varint()); }
  void operator()(std::string_view, std::int32_t& v) {
    const std::int64_t n = unfold(varint());
    v = static_cast<std::int32_t>(n);
    if (n != v) ok_ = false;
  }
  void operator()(std::string_view, double& v) {
    if (from_.size() < sizeof v) { ok_ = false; return; }
    std::memcpy(&v, from_.data(), sizeof v);
    from_.remove_prefix(sizeof v);
  }
  void operator()(std::string_view, OxygenFraction& v) {
    double d = 0;
    (*this)("", d);
    const auto f = OxygenFraction::from_fraction(d);
    if (f) v = *f;
    else ok_ = false;
  }
  void operator()(std::string_view, std::string& v) {
    const std::uint64_t n = varint();
    if (n > from_.size()) { ok_ = false; return; }
    v.assign(from_.substr(0, n));
    from_.remove_prefix(n);
  }
  void operator()(std::string_view, EngineTime& v) {
    v = EngineTime{Duration{wrapping_add(base_, unfold(varint()))}};
  }
  void operator()(std::string_view, OrderNo& v) { v = OrderNo{varint()}; }
  template <class T> void operator()(std::string_view, Id<T>& v) { (*this)("", v.index); }
  template <class E> requires std::is_enum_v<E>
  void operator()(std::string_view, E& v) {
    const unsigned n = byte();
    if (n >= EnumWords<E>::words.size()) ok_ = false;
    v = static_cast<E>(n);
  }
  template <class T> void operator()(std::string_view, std::optional<T>& v) {
    v.reset();
    if (byte() != 0 && ok_) (*this)("", v.emplace());
  }
  template <class... T> void operator()(std::string_view, std::variant<T...>& v) {
    const unsigned n = byte();
    if (!ok_ || n >= sizeof...(T)) { ok_ = false; return; }
    emplace_nth(v, n);
    std::visit([this](auto& x) { describe(*this, x); }, v);
  }
  void operator()(std::string_view, PlaceId& v) { describe(*this, v); }

  std::uint64_t varint() {
    const auto v = get_varint(from_);
    ok_ = ok_ && v;
    return v.value_or(0);
  }

 private:
  unsigned byte() {
    if (from_.empty()) { ok_ = false; return 0; }
    const auto b = static_cast<unsigned char>(from_[0]);
    from_.remove_prefix(1);
    return b;
  }

  std::string_view& from_;
  std::int64_t base_;
  bool ok_ = true;
};

void pack(std::string& to, const Stamped& s, std::uint64_t seq_before, std::int64_t at_before) {
  const std::int64_t at = s.at.time_since_epoch().count();
  put_varint(to, static_cast<std::uint64_t>(s.seq) - seq_before);
  put_signed(to, wrapping_sub(at, at_before));
  Packer packer{to, at};
  Input copy = s.input;
  packer("", copy);
}

bool unpack(std::string_view& from, Stamped& out, std::uint64_t seq_before, std::int64_t at_before) {
  Unpacker head{from, at_before};
  out.seq = Seq{seq_before + head.varint()};
  head("", out.at);
  Unpacker body{from, out.at.time_since_epoch().count()};
  if (head.ok()) body("", out.input);
  return head.ok() && body.ok();
}

template <class List, class I> bool inside(const List& list, I id) { return id.index < list.size(); }

bool fits_place(const Site& s, PlaceId p) {
  switch (p.kind) {
    case PlaceKind::box: return true;
    case PlaceKind::room: return p.index < s.rooms.size();
    case PlaceKind::supply: return p.index < s.supplies.size();
    case PlaceKind::analyser: return p.index < s.analysers.size();
    case PlaceKind::system: return p.index < s.systems.size();
    case PlaceKind::link: return p.index < s.links.size();
  }
  return false;
}

// Walks the fields of an input and looks at the indices among them.
struct IndexCheck {
  const Site& site;
  bool ok = true;
  void operator()(std::string_view, ChannelId& v) { ok = ok && inside(site.channels, v); }
  void operator()(std::string_view, SystemId& v) { ok = ok && inside(site.systems, v); }
  void operator()(std::string_view, OutputId& v) { ok = ok && inside(site.outputs, v); }
  void operator()(std::string_view, LinkId& v) { ok = ok && inside(site.links, v); }
  void operator()(std::string_view, PlaceId& v) { ok = ok && fits_place(site, v); }
  template <class... T> void operator()(std::string_view, std::variant<T...>& v) {
    std::visit([this](auto& x) { describe(*this, x); }, v);
  }
  template <class T> void operator()(std::string_view, T&) {}
};

}  // namespace

void append_stamped(std::string& to, const Stamped& s) { pack(to, s, 0, 0); }
bool read_stamped(std::string_view& from, Stamped& out) { return unpack(from, out, 0, 0); }

void StampedPacker::add(const Stamped& s) {
  pack(bytes_, s, seq_, at_);
  seq_ = static_cast<std::uint64_t>(s.seq);
  at_ = s.at.time_since_epoch().count();
}

std::string StampedPacker::take() {
  seq_ = 0;
  at_ = 0;
  return std::exchange(bytes_, {});
}

std::optional<std::vector<Stamped>> unpack_stamped(std::string_view bytes) {
  std::vector<Stamped> out;
  std::uint64_t seq = 0;
  std::int64_t at = 0;
  while (!bytes.empty()) {
    Stamped s;
    if (!unpack(bytes, s, seq, at)) return std::nullopt;
    seq = static_cast<std::uint64_t>(s.seq);
    at = s.at.time_since_epoch().count();
    out.push_back(std::move(s));
  }
  return out;
}

bool fits(const Site& site, const Input& input) {
  IndexCheck check{site};
  Input copy = input;
  check("", copy);
  return check.ok;
}

}  // namespace riserkeep
