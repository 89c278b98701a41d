// Scalars that know their unit: mixing two of them gives an error, not a wrong answer.
#pragma once

namespace copunctal {

struct Nanometres {
  double nm = 0;
};
struct Degrees {
  double deg = 0;
};
struct Years {
  double years = 0;
};
struct Millimetres {
  double mm = 0;
};
/// log10 optical density.
struct Density {
  double log10 = 0;
};
/// Residual separation of the two long-wave pigments: 28 nm normal, 0 dichromat.
struct Separation {
  double nm = 28;
};

}  // namespace copunctal
