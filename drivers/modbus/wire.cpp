#include "drivers/modbus/wire.h"

#include <fmt/format.h>
#include <modbus/modbus.h>
#include <sys/file.h>
#include <sys/ioctl.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <thread>

namespace riserkeep {
namespace {

std::string where(const LinkWiring& wiring) {
  if (const auto* tcp = std::get_if<ModbusTcp>(&wiring.where)) return fmt::format("{}:{}", tcp->host, tcp->port);
  if (const auto* rtu = std::get_if<ModbusRtu>(&wiring.where)) return rtu->device;
  return "not a Modbus link";
}

modbus_t* make_context(const LinkWiring& wiring) {
  if (const auto* tcp = std::get_if<ModbusTcp>(&wiring.where)) return modbus_new_tcp(tcp->host.c_str(), tcp->port);
  if (const auto* rtu = std::get_if<ModbusRtu>(&wiring.where)) {
    return modbus_new_rtu(rtu->device.c_str(), rtu->baud, rtu->parity, rtu->data_bits, rtu->stop_bits);
  }
  return nullptr;
}

std::string cure(int error) {
  switch (error) {
    case ECONNREFUSED: return "connection refused: is the device's Modbus TCP server on, and the port right?";
    case ETIMEDOUT:
    case EINPROGRESS: return "no answer to the connection: is it powered, and the address right?";
    case EHOSTUNREACH:
    case ENETUNREACH: return "no route to it: check the network cable and the address";
    case ENOENT: return "there is no such device file: is the adapter plugged in?";
    case EACCES: return "permission denied: add the service user to the group of the serial port (dialout)";
    default: return modbus_strerror(error);
  }
}

Answer judge(int error) {
  if (error > MODBUS_ENOBASE && error <= EMBXGTAR) {
    const int code = error - MODBUS_ENOBASE;
    // A gateway that could not reach its device answers in the device's place: in step, but nothing was done.
    if (error == EMBXGPATH || error == EMBXGTAR) return {Trouble::refused, code, "the gateway gets no answer from it"};
    return {Trouble::refused, code, fmt::format("exception {} ({})", code, modbus_strerror(error))};
  }
  switch (error) {
    case ETIMEDOUT: return {Trouble::lost, 0, "no answer in time"};
    case EMBBADCRC: return {Trouble::lost, 0, "bad checksum: check the wiring, termination and baud rate"};
    case EMBBADDATA:
    case EMBBADEXC:
    case EMBUNKEXC:
    case EMBMDATA:
    case EMBBADSLAVE: return {Trouble::lost, 0, "an answer to another request or of the wrong shape"};
    default: return {Trouble::broken, 0, modbus_strerror(error)};
  }
}

}  // namespace

void Wire::Free::operator()(_modbus* m) const { modbus_free(m); }

Wire::Wire(const LinkWiring& wiring) : wiring_(wiring) {}

Wire::~Wire() { close(); }

bool Wire::serial() const { return std::holds_alternative<ModbusRtu>(wiring_.where); }

std::optional<std::string> Wire::connect() {
  close();
  context_.reset(make_context(wiring_));
  if (!context_) return fmt::format("{}: cannot be used as a Modbus link ({})", where(wiring_), std::strerror(errno));
  const auto us = std::chrono::microseconds(std::max(wiring_.time_out, Duration{1})).count();
  modbus_set_response_timeout(context_.get(), static_cast<std::uint32_t>(us / 1'000'000),
                              static_cast<std::uint32_t>(us % 1'000'000));
  modbus_set_byte_timeout(context_.get(), 0, 0);   // off: the response time-out bounds the whole answer
  modbus_set_error_recovery(context_.get(), MODBUS_ERROR_RECOVERY_NONE);
  modbus_set_slave(context_.get(), 1);             // the library aborts on a serial line without one
  if (modbus_connect(context_.get()) != 0) {
    const int error = errno;
    context_.reset();
    return fmt::format("{}: {}", where(wiring_), cure(error));
  }
  connected_ = true;
  if (auto busy = lock_port()) {
    close();
    return busy;
  }
  if (wiring_.connect_delay.count() > 0) std::this_thread::sleep_for(std::min(wiring_.connect_delay, Duration{5000}));
  return std::nullopt;
}

std::optional<std::string> Wire::lock_port() const {
  if (!serial()) return std::nullopt;
  const int fd = modbus_get_socket(context_.get());
  if (flock(fd, LOCK_EX | LOCK_NB) != 0) return where(wiring_) + ": port in use by another program; end that one";
  ioctl(fd, TIOCEXCL);               // keeps others out; root passes, hence the lock
  return std::nullopt;
}

void Wire::close() {
  if (context_ && connected_) {
    if (serial()) ioctl(modbus_get_socket(context_.get()), TIOCNXCL);
    modbus_close(context_.get());
  }
  connected_ = false;
  context_.reset();
}

Answer Wire::prepare(int unit) {
  if (!connected_) return {Trouble::broken, 0, "not connected"};
  if (wiring_.min_gap.count() > 0) std::this_thread::sleep_for(std::min(wiring_.min_gap, Duration{2000}));
  if (serial()) modbus_flush(context_.get());
  if (modbus_set_slave(context_.get(), unit) != 0) {
    return {Trouble::refused, 0, fmt::format("unit {} cannot be addressed: 1 to 247", unit)};
  }
  return {};
}

Answer Wire::finish(int result, int wanted) {
  if (result == wanted) return {};
  return judge(result < 0 ? errno : EMBBADDATA);
}

Answer Wire::read(int unit, RegisterTable table, int address, std::span<std::uint16_t> out) {
  if (Answer a = prepare(unit); a.trouble != Trouble::none) return a;
  const int count = static_cast<int>(out.size());
  switch (table) {
    case RegisterTable::input_register:
      return finish(modbus_read_input_registers(context_.get(), address, count, out.data()), count);
    case RegisterTable::holding_register:
      return finish(modbus_read_registers(context_.get(), address, count, out.data()), count);
    case RegisterTable::coil:
    case RegisterTable::discrete_input: break;
  }
  std::array<std::uint8_t, MODBUS_MAX_READ_BITS> bits{};
  const int got = table == RegisterTable::coil
                      ? modbus_read_bits(context_.get(), address, count, bits.data())
                      : modbus_read_input_bits(context_.get(), address, count, bits.data());
  Answer a = finish(got, count);
  std::copy_n(bits.begin(), out.size(), out.begin());
  return a;
}

Answer Wire::write_coil(int unit, int address, bool on) {
  if (Answer a = prepare(unit); a.trouble != Trouble::none) return a;
  return finish(modbus_write_bit(context_.get(), address, on ? 1 : 0), 1);
}

Answer Wire::write_register(int unit, int address, std::uint16_t value) {
  if (Answer a = prepare(unit); a.trouble != Trouble::none) return a;
  return finish(modbus_write_register(context_.get(), address, value), 1);
}

void Wire::discard_input() {
  if (!connected_) return;
  const auto* rtu = std::get_if<ModbusRtu>(&wiring_.where);
  // 3.5 characters of 11 bits, at least 10 ms for the buffers of USB adapters.
  const int bits_ms = rtu && rtu->baud > 0 ? 38'500 / rtu->baud + 1 : 0;
  std::this_thread::sleep_for(std::chrono::milliseconds(std::max(10, bits_ms)));
  modbus_flush(context_.get());
}

}  // namespace riserkeep
