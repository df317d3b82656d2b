// app/sensor_channel.h - figures of one colour, or of all, from its pairs.
#pragma once

#include "app/sensor.h"
#include "diagnose/photon_transfer.h"
#include "frame/facts.h"

namespace ng::app {

// Gain, read noise, full well, range; linearity where all points are of one colour.
[[nodiscard]] SensorChannel channel_of(const std::vector<diagnose::TransferPoint>& points,
                                       const diagnose::DarkNoise& dark, bool with_linearity);
// The mean over the colours, and the worst of them.
void join_linearity(const std::vector<SensorChannel>& channels, SensorChannel& all);
// What is doubtful about it, as sentences.
void explain_channel(const SensorChannel& all, const FrameFacts& facts, std::vector<std::string>& flags);

}  // namespace ng::app
