// Answer sheets of paper: to print, to type in or to load, scored and not kept (docs/api.md).
#pragma once

#include "copunctal/app/paper_desk.h"
#include "copunctal/server/router.h"

namespace copunctal {

void add_paper(Router& router, PaperDesk& paper);

}  // namespace copunctal
