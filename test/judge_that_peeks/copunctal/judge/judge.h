#include "copunctal/data/table.h"
