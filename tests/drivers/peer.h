// A scripted Modbus device of our own, byte for byte from the specification (no library), on TCP or on the
// far end of a pseudo terminal. It works through requests one after another, as a serial device does: a slow
// answer makes the following ones late too.
#pragma once

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <pty.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#include <atomic>
#include <chrono>
#include <cstdint>
#include <functional>
#include <map>
#include <mutex>
#include <set>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

namespace bench {

using Bytes = std::vector<std::uint8_t>;

// CRC-16/MODBUS, bit by bit as in "Modbus over Serial Line V1.02" section 6.2.2; sent low byte first.
inline std::uint16_t crc16(const Bytes& bytes) {
  std::uint16_t crc = 0xFFFF;
  for (const std::uint8_t b : bytes) {
    crc = static_cast<std::uint16_t>(crc ^ b);
    for (int i = 0; i < 8; ++i) crc = static_cast<std::uint16_t>((crc & 1) != 0 ? (crc >> 1) ^ 0xA001 : crc >> 1);
  }
  return crc;
}
inline Bytes with_crc(Bytes frame) {
  const std::uint16_t crc = crc16(frame);
  frame.push_back(static_cast<std::uint8_t>(crc & 0xFF));
  frame.push_back(static_cast<std::uint8_t>(crc >> 8));
  return frame;
}

struct Asked {
  int unit = 0, function = 0, address = 0, count = 0;   // count: also the value of a write
};

// What to do with one request beside answering it.
struct Act {
  std::chrono::milliseconds delay{};
  bool silent = false;               // no answer at all
  bool hang_up = false;              // TCP: close instead of answering
  int exception = 0;
  Bytes noise{};                     // before the answer
};

// The registers of all units: the value of a register is its address unless set; coils are remembered.
class Memory {
 public:
  std::map<int, std::uint16_t> registers;   // by address, of any unit
  std::set<int> holes;                      // addresses that do not exist
  std::map<std::pair<int, int>, bool> coils;
  std::map<std::pair<int, int>, std::uint16_t> written;
  bool coils_stuck = false;

  Bytes answer(const Asked& q) {
    const auto fc = static_cast<std::uint8_t>(q.function);
    for (int i = 0; q.function <= 4 && i < q.count; ++i) {
      if (holes.contains(q.address + i)) return {static_cast<std::uint8_t>(fc | 0x80), 2};
    }
    switch (q.function) {
      case 1:
      case 2: return bits(q);
      case 3:
      case 4: return words(q);
      case 5:
        if (!coils_stuck) coils[{q.unit, q.address}] = q.count == 0xFF00;
        break;
      case 6: written[{q.unit, q.address}] = static_cast<std::uint16_t>(q.count); break;
      default: return {static_cast<std::uint8_t>(fc | 0x80), 1};
    }
    return {fc, hi(q.address), lo(q.address), hi(q.count), lo(q.count)};
  }

 private:
  static std::uint8_t hi(int v) { return static_cast<std::uint8_t>((v >> 8) & 0xFF); }
  static std::uint8_t lo(int v) { return static_cast<std::uint8_t>(v & 0xFF); }
  Bytes bits(const Asked& q) {
    Bytes out{static_cast<std::uint8_t>(q.function), static_cast<std::uint8_t>((q.count + 7) / 8)};
    out.resize(2 + out[1], 0);
    for (int i = 0; i < q.count; ++i) {
      const auto at = static_cast<std::size_t>(2 + i / 8);
      if (coils[{q.unit, q.address + i}]) out[at] = static_cast<std::uint8_t>(out[at] | (1 << (i % 8)));
    }
    return out;
  }
  Bytes words(const Asked& q) {
    Bytes out{static_cast<std::uint8_t>(q.function), static_cast<std::uint8_t>(2 * q.count)};
    for (int i = 0; i < q.count; ++i) {
      const auto set = registers.find(q.address + i);
      const int v = set == registers.end() ? q.address + i : set->second;
      out.push_back(hi(v));
      out.push_back(lo(v));
    }
    return out;
  }
};

class Peer {
 public:
  using Script = std::function<Act(const Asked&, int number)>;   // number: of requests so far, from 1

  static int free_port() {
    const int fd = listen_on(0);
    const int port = port_of(fd);
    ::close(fd);
    return port;
  }

  // On TCP; port 0 = any.
  explicit Peer(int port, Script script = {}) : script_(std::move(script)), listener_(listen_on(port)) {
    port_ = port_of(listener_);
    thread_ = std::thread([this] { serve_tcp(); });
  }
  struct Serial {};
  explicit Peer(Serial, Script script = {}) : script_(std::move(script)) {
    char name[128] = {};
    termios raw{};
    cfmakeraw(&raw);
    if (openpty(&master_, &slave_, name, &raw, nullptr) != 0) throw std::runtime_error("openpty");
    device_ = name;
    thread_ = std::thread([this] { serve_serial(); });
  }
  ~Peer() {
    stop_ = true;
    thread_.join();
    for (const int fd : {listener_, connection_, master_, slave_}) {
      if (fd >= 0) ::close(fd);
    }
  }
  Peer(const Peer&) = delete;
  Peer& operator=(const Peer&) = delete;

  int port() const { return port_; }
  const std::string& device() const { return device_; }
  int connects() const { return connects_; }
  std::vector<Asked> asked() const {
    const std::scoped_lock lock(mutex_);
    return asked_;
  }
  std::vector<Bytes> frames() const {
    const std::scoped_lock lock(mutex_);
    return frames_;
  }
  template <class F> auto with(F&& use) {
    const std::scoped_lock lock(mutex_);
    return use(memory_);
  }

 private:
  static int listen_on(int port) {
    const int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    const int one = 1;
    setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &one, sizeof one);
    sockaddr_in a{};
    a.sin_family = AF_INET;
    a.sin_port = htons(static_cast<std::uint16_t>(port));
    a.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    sockaddr generic{};
    static_assert(sizeof generic == sizeof a);
    __builtin_memcpy(&generic, &a, sizeof a);
    if (bind(fd, &generic, sizeof a) != 0 || listen(fd, 8) != 0) throw std::runtime_error("bind");
    return fd;
  }
  static int port_of(int fd) {
    sockaddr_in a{};
    sockaddr generic{};
    socklen_t length = sizeof generic;
    getsockname(fd, &generic, &length);
    __builtin_memcpy(&a, &generic, sizeof a);
    return ntohs(a.sin_port);
  }

  bool read_all(int fd, Bytes& into, std::size_t count) {
    while (into.size() < count && !stop_) {
      pollfd p{fd, POLLIN, 0};
      if (poll(&p, 1, 10) <= 0) continue;
      std::uint8_t buffer[300];
      const auto got = ::read(fd, buffer, count - into.size());
      if (got <= 0) return false;
      into.insert(into.end(), buffer, buffer + got);
    }
    return !stop_;
  }

  Act act_on(const Asked& q, Bytes& pdu) {
    int number = 0;
    {
      const std::scoped_lock lock(mutex_);
      asked_.push_back(q);
      number = static_cast<int>(asked_.size());
    }
    Act act = script_ ? script_(q, number) : Act{};
    const auto end = std::chrono::steady_clock::now() + act.delay;
    while (!stop_ && std::chrono::steady_clock::now() < end) std::this_thread::sleep_for(std::chrono::milliseconds(1));
    const std::scoped_lock lock(mutex_);
    if (!act.silent && !act.hang_up) pdu = memory_.answer(q);
    if (act.exception != 0) pdu = {static_cast<std::uint8_t>(q.function | 0x80), static_cast<std::uint8_t>(act.exception)};
    return act;
  }

  static Asked parse(const std::uint8_t* b) {
    return {b[0], b[1], b[2] << 8 | b[3], b[4] << 8 | b[5]};
  }

  void keep(const Bytes& frame) {
    const std::scoped_lock lock(mutex_);
    frames_.push_back(frame);
  }

  void serve_tcp() {
    while (!stop_) {
      pollfd p{listener_, POLLIN, 0};
      if (poll(&p, 1, 10) <= 0) continue;
      connection_ = accept(listener_, nullptr, nullptr);
      if (connection_ < 0) continue;
      const int one = 1;
      setsockopt(connection_, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
      ++connects_;
      while (serve_tcp_request()) {}
      ::close(connection_);
      connection_ = -1;
    }
  }

  bool serve_tcp_request() {
    Bytes frame;
    if (!read_all(connection_, frame, 12)) return false;
    keep(frame);
    Bytes pdu;
    const Act act = act_on(parse(frame.data() + 6), pdu);
    if (act.hang_up) return false;
    if (act.silent) return true;
    Bytes out = act.noise;
    out.insert(out.end(), frame.begin(), frame.begin() + 4);
    out.push_back(0);
    out.push_back(static_cast<std::uint8_t>(pdu.size() + 1));
    out.push_back(frame[6]);
    out.insert(out.end(), pdu.begin(), pdu.end());
    return send(connection_, out.data(), out.size(), MSG_NOSIGNAL) > 0;
  }

  void serve_serial() {
    while (!stop_) {
      Bytes frame;
      if (!read_all(master_, frame, 8)) continue;
      keep(frame);
      Bytes pdu;
      const Act act = act_on(parse(frame.data()), pdu);
      if (act.silent || stop_) continue;
      Bytes answer{frame[0]};
      answer.insert(answer.end(), pdu.begin(), pdu.end());
      Bytes out = act.noise;
      const Bytes framed = with_crc(answer);
      out.insert(out.end(), framed.begin(), framed.end());
      if (::write(master_, out.data(), out.size()) < 0) return;
    }
  }

  Script script_;
  int listener_ = -1, connection_ = -1, master_ = -1, slave_ = -1, port_ = 0;
  std::string device_;
  mutable std::mutex mutex_;
  Memory memory_;
  std::vector<Asked> asked_;
  std::vector<Bytes> frames_;
  std::atomic<int> connects_{0};
  std::atomic<bool> stop_{false};
  std::thread thread_;
};

}  // namespace bench
