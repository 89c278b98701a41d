#include "copunctal/spectrum/spectrum.h"

using namespace copunctal;

int main() {
  Power light;
#ifdef SHOULD_FAIL
  const LogAbsorbance cone = EnergySensitivity{};
#else
  const EnergySensitivity cone = EnergySensitivity{};
#endif
  return integral(light, cone) == 0 ? 0 : 1;
}
