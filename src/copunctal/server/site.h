// Everything that is served: the API's routes and the pages, from request to response.
//
// No sockets here; server.h carries the bytes.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/app/device_checks.h"
#include "copunctal/app/look_through.h"
#include "copunctal/app/paper_desk.h"
#include "copunctal/app/picture_desk.h"
#include "copunctal/app/plate_workshop.h"
#include "copunctal/app/preflight.h"
#include "copunctal/app/room_show.h"
#include "copunctal/app/run_sitting.h"
#include "copunctal/server/class_door.h"
#include "copunctal/server/csp_reports.h"
#include "copunctal/server/router.h"

namespace copunctal {

/// A file of the pages, taken into the program when it was built.
struct EmbeddedFile {
  std::string_view path;          ///< "index.html", "assets/app-3f2a.js".
  std::string_view content_type;  ///< "text/html; charset=utf-8".
  std::span<const std::byte> bytes;
};

struct RehearsalControl;

/// Told of what went wrong inside (never what anybody answered), for a log.
using TroubleReport = std::function<void(std::string_view)>;

class Site {
 public:
  /// `desk`, the files, the workshop and the door must outlive the site. Without a workshop its
  /// routes are not there; without a door of its own nobody joins.
  Site(SittingDesk& desk, std::span<const EmbeddedFile> files, TroubleReport report,
       PlateWorkshop* workshop = nullptr, ClassDoor* door = nullptr);
  /// Joining and the look at devices alone: nothing is stored and no practical is there.
  Site(std::span<const EmbeddedFile> files, TroubleReport report, ClassDoor& door,
       DeviceList::Heard heard);

  Site(const Site&) = delete;
  Site& operator=(const Site&) = delete;
  ~Site();

  /// From now on every reply in JSON says that all of it is invented (app/invented_class.h). To be
  /// called before anything is answered, as the next one.
  void say_invented() { is_invented_ = true; }
  /// What the instructor may do about rehearsals; until then their routes refuse.
  void let_rehearse(RehearsalControl control);

  /// The response to any request, headers and all. Never throws; from any thread.
  Response answer(const Request& request) const;
  std::vector<std::string> routes() const { return router_.routes(); }
  std::vector<AccessRow> access_table() const { return router_.access_table(); }
  std::vector<CheckedDevice> checked_devices() const { return devices_.devices(); }

 private:
  Response answer_unguarded(const Request& request) const;
  /// For a page that needs joining first: a link from elsewhere arrives without the cookie, which
  /// the page itself then has.
  std::optional<Response> page_to_join(const Request& request) const;
  /// The page itself says that nothing is there.
  std::optional<Response> page_of_nothing(const Request& request) const;
  /// The file that every page is; nothing where there are no pages.
  std::optional<Response> shell_for(const Request& request) const;

  ClassDoor closed_door_;
  ClassDoor* door_;
  PlateWorkshop* workshop_ = nullptr;
  DeviceChecks device_checks_;
  CspReports csp_reports_;
  DeviceList devices_;
  std::unique_ptr<ShowDesk> shows_;
  std::unique_ptr<PaperDesk> paper_;
  Router router_;
  std::unique_ptr<EyePictures> eye_pictures_;
  std::unique_ptr<PictureDesk> picture_desk_;
  TroubleReport report_;
  std::unique_ptr<RehearsalControl> rehearsals_;
  bool is_invented_ = false;
};

}  // namespace copunctal
