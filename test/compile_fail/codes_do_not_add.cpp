#include "copunctal/colour/quantities.h"

using namespace copunctal;

int main() {
#ifdef SHOULD_FAIL
  constexpr auto sum = EncodedRgb{0.5, 0, 0} + EncodedRgb{0.5, 0, 0};
#else
  constexpr auto sum = LinearRgb{0.5, 0, 0} + LinearRgb{0.5, 0, 0};
#endif
  return sum.r == 1 ? 0 : 1;
}
