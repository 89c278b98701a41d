#pragma once
#include "copunctal/display/display.h"
