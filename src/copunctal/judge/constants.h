// The numbers of the second judge, each with where it is from. None is shared with vision/ or
// reader/.
//
// The four constants of the noise law are fitted to the observed columns of macadam1942_ellipses by
// least squares of ln(distance) over 36 points on each of the 25 ellipses, with white D65;
// judge_test checks that no neighbouring constants fit better. The rest is assumed or from memory.
#pragma once

namespace copunctal {

struct JudgeConstants {
  /// Noise of r = L / (L + M) at the white, one standard deviation of a match. Fitted here.
  double red_green_noise = 0.00054327;
  /// Departure of r from the white's at which that noise has doubled. Fitted here.
  double red_green_pedestal = 0.095416;
  /// Noise of ln(b + b0), b = S / (L + M) relative to the white's. Fitted here.
  double yellow_violet_noise = 0.014629;
  /// b0. Fitted here.
  double yellow_violet_offset = 0.45649;
  /// How many standard deviations of a match make one of telling apart in a single look: a just
  /// noticeable difference is about three of them (MacAdam 1942, from memory).
  double match_to_look = 3;
  /// How much noisier one pebble is than half of a two-degree field: the root of the ratio of their
  /// areas (Piper's law; assumed to hold). A field of 602 pixels of 1/96 inch at 60 cm is 15
  /// degrees wide, a thousand pebbles fill about .85 of it: .19 square degrees each, against 1.57.
  double small_element = 2.85;
  /// Noise of one pebble in ln Y: a Weber fraction (assumed).
  double luminance_noise = 0.03;
  /// Share of the pebbles' evidence that is used (assumed: between the tenth known of letters in
  /// noise and the third or more of judging a mean; both from memory).
  double efficiency = 0.2;
  /// How often a blank plate may seem to hold a figure (assumed); the criterion follows from it.
  double blank_rate = 0.01;
  /// Half-width of "marginal" around the criterion, in d': one standard deviation (a choice).
  double marginal = 1;
};

}  // namespace copunctal
