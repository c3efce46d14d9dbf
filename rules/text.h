// Locale-free numbers and the words of the product, for events, messages and `why`.
#pragma once

#include <string>
#include <string_view>

#include "rules/effect.h"
#include "rules/ids.h"
#include "rules/input.h"
#include "rules/quantities.h"
#include "rules/reading.h"
#include "rules/site.h"
#include "rules/time.h"

namespace riserkeep {

std::string fixed(double v, int decimals);        // "-0.0" becomes "0.0"
std::string significant2(double v);               // two significant figures: "0.83", "4.1", "12"
std::string psi_text(GaugePressure p);            // "35.7 psi"
std::string psi_text(PressureChange p);
std::string percent_text(OxygenFraction o);       // "1.9 % O2"
std::string duration_text(Duration d);            // "41 min", "1 h 30 min", "3 d"

std::string_view word(Mode);
std::string_view word(Priority);
std::string_view word(Category);
std::string_view word(AlarmState);
std::string_view word(AlarmChange);
std::string_view word(VentChange);
std::string_view word(RefillCause);
std::string_view word(Grade);
std::string_view word(PurityHow);
std::string_view word(Tap);
std::string_view word(Quality);
std::string_view word(Why);
std::string_view word(ClassId);                   // "near-trip"
std::string_view word(NoticeKind);
std::string_view word(SystemKind);
std::string_view word(ValveKind);

}  // namespace riserkeep
