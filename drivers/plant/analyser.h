// An oxygen analyser at the end of a sampling line.
#pragma once

#include <array>
#include <optional>

namespace riserkeep::plant {

class SampleLine {
 public:
  // line_seconds: volume of the line over its flow. t90_seconds: of the cell itself.
  SampleLine(double line_seconds, double t90_seconds, double oxygen_share);

  // source: what enters the line; nullopt = no flow, the gas in it stands still and the cell sees the end of it.
  void step(double seconds, std::optional<double> source);
  double cell() const { return cell_; }  // share of oxygen as the cell would say without errors

 private:
  static constexpr int kTanks = 8;  // in series: partly plug flow, partly mixed (Levenspiel)
  std::array<double, kTanks> tanks_{};
  double line_seconds_, t90_seconds_;
  double cell_;
};

}  // namespace riserkeep::plant
