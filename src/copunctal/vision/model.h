// The constants of the discrimination model and the reader, in one place, each with where it is
// from.
//
// [fit]      fitted here to the 25 ellipses of MacAdam 1942 (docs/science/discrimination.md);
// [memory]   a literature value from memory;
// [assumed]  no source: an assumption that only measurements on people can replace.
#pragma once

namespace copunctal {

struct DiscriminationModel {
  // Opponent stage. Signals are in units of one element's internal noise.
  double rg_pedestal = 0.312;     ///< h, of ln(L/M) [fit]
  double rg_noise = 0.00219;      ///< s_r, of ln(L/M) [fit]
  double yv_pedestal = 3.0;       ///< h', of ln((S/Y + s0) / (1 + s0)) [fit]
  double yv_noise = 0.0115;       ///< s_y [fit]
  double s_offset = 0.51;         ///< s0, of S/Y [fit]
  double luminance_noise = 0.03;  ///< s_l, of ln Y [assumed]
  /// K: how much worse one element of a mosaic is seen than a large field under MacAdam's
  /// conditions. 6 agrees with luminance-noise mosaics of Regan, Reffin & Mollon 1994 [memory]; the
  /// one number to calibrate on people.
  double mosaic_factor = 6;
  /// How far an anomalous observer's red-green signal is amplified after the cones: 0 not at all, 1
  /// until it is as large as a normal's, g = 1 / rho, rho = residual over normal separation;
  /// between them g = rho^-gain (cf. Boehm, MacLeod & Bosten 2014) [memory, assumed].
  double post_receptoral_gain = 0;
  /// f_e: share of the red-green noise that arises before that amplifier and grows with it.
  /// [assumed]
  double early_noise_share = 0.25;

  // Reader.
  double efficiency = 0.10;  ///< eta, of letter identification (Pelli et al. 2006) [memory]
  double masking_by_luminance =
      0.02;  ///< kappa, luminance variance into chromatic signals [assumed]
  double masking_by_chromatic =
      0.10;  ///< kappa, chromatic variance into the other signals [assumed]
  double blank_reading_rate =
      0.02;             ///< Share of blank plates on which a figure is reported [assumed]
  double lapse = 0.01;  ///< Share of answers given at random [assumed]

  // Individuals.
  double sensitivity_sd = 0.12;  ///< log10, of each mechanism [assumed]
  double l_weight = 0.69;        ///< Share of L in luminance, median (Carroll et al. 2002) [memory]
  double l_weight_sd = 0.6;      ///< Of the logit of that share [memory]
};

}  // namespace copunctal
