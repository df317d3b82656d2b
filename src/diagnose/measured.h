// diagnose/measured.h - a value and its uncertainty.
#pragma once

namespace ng::diagnose {

struct Measured {
  double value = 0;
  double error = 0;  // one standard deviation
};

}  // namespace ng::diagnose
