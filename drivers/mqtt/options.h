// How a broker is dialled: name, address, password, TLS, last will.
#pragma once

#include <mqtt/connect_options.h>

#include <chrono>
#include <string>

#include "config/wiring.h"

namespace riserkeep {

// At most 23 letters and digits, which every broker must take, and the same at every start of this box.
std::string broker_client_id(const std::string& prefix, const std::string& link);
std::string broker_uri(const std::string& uri);   // in paho's words: tcp:// or ssl://
bool broker_by_tls(const std::string& uri);

// The will is "offline", retained. With TLS the authority and the host name are checked. No TLS error handler:
// paho 1.2 keeps a pointer to the copy of the options that ends with its connect(), and would call into it.
// The password file is read anew each time.
mqtt::connect_options broker_options(const Mqtt& where, std::chrono::seconds time_out, const std::string& will_topic);

}  // namespace riserkeep
