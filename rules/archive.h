// Tagged save and load of the engine's state. The same `keep(Archive&)` of a class does both ways, so
// that the two cannot drift apart. Layout: sections {id, version, length, crc, bytes}, little-endian.
// An unknown or newer section is skipped; a damaged or missing one leaves its part as it was built
// ("warming up"). Loading never throws and never allocates more than the bytes that are there.
#pragma once

#include <array>
#include <bit>
#include <chrono>
#include <cstdint>
#include <cstring>
#include <deque>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <tuple>
#include <type_traits>
#include <utility>
#include <variant>
#include <vector>

#include "rules/ids.h"
#include "rules/quantities.h"
#include "rules/time.h"

namespace riserkeep {

class Archive {
 public:
  static Archive saving() { return Archive{}; }
  static Archive loading(std::string bytes);

  bool is_loading() const { return loading_; }
  bool ok() const { return ok_; }
  void fail() { ok_ = false; }
  std::string take() && { return std::move(bytes_); }

  template <class... T>
  Archive& operator()(T&... v) {
    (one(v), ...);
    return *this;
  }

  // One independent part of the state. Loading: true when `part` was replaced by what was saved.
  template <class T>
  bool section(std::uint32_t id, std::uint16_t version, T& part) {
    if (!loading_) {
      Archive inner = saving();
      inner(part);
      append_section(id, version, std::move(inner).take());
      return true;
    }
    auto found = find_section(id, version);
    if (!found) return false;
    Archive inner = from_raw(std::move(*found));
    T fresh = part;
    inner(fresh);
    if (!inner.ok_ || inner.at_ != inner.bytes_.size()) return false;
    part = std::move(fresh);
    return true;
  }

 private:
  struct Section { std::uint32_t id; std::uint16_t version; std::size_t at, length; };

  static Archive from_raw(std::string bytes);
  void append_section(std::uint32_t id, std::uint16_t version, std::string body);
  std::optional<std::string> find_section(std::uint32_t id, std::uint16_t version);
  std::size_t left() const { return bytes_.size() - at_; }
  std::size_t count(std::size_t have);  // of a container; bounded by what is left when loading

  template <class T>
  void raw(T& v) {
    static_assert(std::is_trivially_copyable_v<T> && std::endian::native == std::endian::little);
    if (!loading_) { bytes_.append(reinterpret_cast<const char*>(&v), sizeof v); return; }
    if (left() < sizeof v) { ok_ = false; return; }
    std::memcpy(&v, bytes_.data() + at_, sizeof v);
    at_ += sizeof v;
  }

  template <class T>
  void one(T& v) {
    if constexpr (requires { v.keep(*this); }) v.keep(*this);
    else if constexpr (std::is_same_v<T, bool>) { std::uint8_t b = v; raw(b); if (loading_) v = b != 0; }
    else { static_assert(std::is_arithmetic_v<T> || std::is_enum_v<T>, "give the type a keep(Archive&)"); raw(v); }
  }
  template <class K> void one(Quantity<K>& q) { double d = q.si(); raw(d); if (loading_) q = Quantity<K>::from_si(d); }
  template <class Q, class Z> void one(Point<Q, Z>& p) { double d = p.si(); raw(d); if (loading_) p = Point<Q, Z>::from_si(d); }
  template <class T> void one(Id<T>& i) { raw(i.index); }
  void one(PlaceId& p) { one(p.kind); raw(p.index); }
  void one(OxygenFraction& o) { double d = o.fraction(); raw(d); if (loading_) o = OxygenFraction::clamped(d); }
  void one(WallTime& t) { raw(t.ms); }
  template <class R, class P> void one(std::chrono::duration<R, P>& d) { R c = d.count(); raw(c); if (loading_) d = std::chrono::duration<R, P>{c}; }
  template <class C, class D> void one(std::chrono::time_point<C, D>& t) { D d = t.time_since_epoch(); one(d); if (loading_) t = std::chrono::time_point<C, D>{d}; }
  void one(std::string& s) {
    const std::size_t n = count(s.size());
    if (!loading_) { bytes_ += s; return; }
    s.assign(bytes_, at_, n);
    at_ += n;
  }
  template <class T> void one(std::optional<T>& o) {
    bool has = o.has_value();
    one(has);
    if (loading_) { if (has) o.emplace(); else o.reset(); }
    if (o) one(*o);
  }
  template <class A, class B> void one(std::pair<A, B>& p) { one(p.first); one(p.second); }
  template <class T, std::size_t N> void one(std::array<T, N>& a) { for (auto& v : a) one(v); }
  template <class T> void one(std::vector<T>& v) { sequence(v); }
  template <class T> void one(std::deque<T>& v) { sequence(v); }
  template <class S> void sequence(S& v) {
    const std::size_t n = count(v.size());
    if (loading_) v.clear();
    for (std::size_t i = 0; i < n && ok_; ++i) {
      if (loading_) v.emplace_back();
      one(v[i]);
    }
  }
  template <class K, class V> void one(std::map<K, V>& m) {
    const std::size_t n = count(m.size());
    if (!loading_) { for (auto& [k, v] : m) { K key = k; one(key); one(v); } return; }
    m.clear();
    for (std::size_t i = 0; i < n && ok_; ++i) { K k{}; V v{}; one(k); one(v); m.emplace(std::move(k), std::move(v)); }
  }
  template <class... T> void one(std::variant<T...>& v) {
    auto index = static_cast<std::uint8_t>(v.index());
    raw(index);
    if (loading_) { if (index >= sizeof...(T)) { ok_ = false; return; } emplace_alternative(v, index, std::index_sequence_for<T...>{}); }
    std::visit([this](auto& x) { if constexpr (!std::is_empty_v<std::remove_reference_t<decltype(x)>>) one(x); }, v);
  }
  template <class V, std::size_t... I> static void emplace_alternative(V& v, std::size_t index, std::index_sequence<I...>) {
    ((I == index ? void(v.template emplace<I>()) : void()), ...);
  }
  template <class... T> void one(std::tuple<T...>& t) { std::apply([this](auto&... x) { (one(x), ...); }, t); }

  std::string bytes_;
  std::vector<Section> index_;
  std::size_t at_ = 0;
  bool loading_ = false, ok_ = true;
};

}  // namespace riserkeep
