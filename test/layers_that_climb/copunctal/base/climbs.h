#include "copunctal/plate/plate.h"
