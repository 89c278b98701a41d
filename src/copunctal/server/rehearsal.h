// A rehearsal: a server of its own beside the real one, with a store of its own, and an invented
// class that sits a practical there through the same routes. Real data are never touched, and when
// it ends nothing of it is left.
#pragma once

#include <atomic>
#include <chrono>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <stop_token>
#include <string>
#include <thread>
#include <vector>

#include "copunctal/app/invented_class.h"
#include "copunctal/app/rehearsal_desk.h"
#include "copunctal/server/router.h"
#include "copunctal/server/site.h"

namespace copunctal {

struct RehearsalWish {
  std::size_t people = 30;
  std::uint64_t seed = 1;
  std::chrono::seconds lasts{60};  ///< Over which the class answers; 0: as fast as it can.
  std::uint16_t port = 0;          ///< 0: any free one.
  std::vector<std::string> loans = {"protan:0"};
};

struct RehearsalState {
  /// "preparing", "waits to be opened", "plays", "has played", "stopped" or "ended"; with `trouble`
  /// it stopped by itself.
  std::string stage = "preparing";
  std::string address;  ///< Of the page to run the practical at.
  std::string practical;
  RehearsalWish wish;
  InventedReport report;
  std::string trouble;
};

/// From any number of threads.
class Rehearsal {
 public:
  struct Rests {
    std::filesystem::path directory;  ///< Made, and removed at the end.
    PlateSet set;
    std::vector<EmbeddedFile> files;  ///< Must outlive it.
    TroubleReport report;
    TablesBuilder tables = build_reading_tables;
  };
  /// Serves on loopback when it returns, with the practical prepared; the class comes once it is
  /// opened. Errors: as RehearsalDesk::open(), and what its routes refuse.
  static Result<std::unique_ptr<Rehearsal>> start(Rests rests, const RehearsalWish& wish);
  Rehearsal(const Rehearsal&) = delete;
  Rehearsal& operator=(const Rehearsal&) = delete;
  ~Rehearsal();  ///< Ends it.

  RehearsalState state() const;
  /// Asks its own routes.
  RouteReply ask(const std::string& method, const std::string& path, const std::string& body) const;
  /// Asks it to end; what it kept is removed as soon as requests under way are over.
  void ask_to_end();
  /// Waits until nothing of it is left.
  void wait_for_end();
  bool has_ended() const { return has_ended_; }

 private:
  Rehearsal() = default;
  void serve_all(std::function<void(std::uint16_t)> on_ready);
  void play(const std::stop_token& stop);
  void say(const std::function<void(RehearsalState&)>& change);

  Rests rests_;
  std::string marked_page_;
  std::unique_ptr<RehearsalDesk> desk_;
  std::unique_ptr<Site> site_;
  std::stop_source stop_;
  std::uint16_t port_ = 0;
  mutable std::mutex mutex_;
  RehearsalState state_;
  std::string trouble_;
  std::atomic<bool> has_ended_ = false;
  std::mutex ending_;
  std::thread serving_;
};

/// What the instructor's pages may ask of rehearsals; each may be empty, then its route refuses.
struct RehearsalControl {
  std::function<Answered<RehearsalState>(const RehearsalWish&)> start;
  std::function<std::optional<RehearsalState>()> state;
  std::function<void()> end;
};

/// Rehearsals beside a server: one at a time.
class Rehearsals {
 public:
  explicit Rehearsals(std::function<Rehearsal::Rests()> rests) : rests_(std::move(rests)) {}
  RehearsalControl control();

 private:
  Answered<RehearsalState> start(const RehearsalWish& wish);
  const std::function<Rehearsal::Rests()> rests_;
  std::mutex mutex_;
  std::unique_ptr<Rehearsal> running_;
};

/// Adds GET, POST and DELETE of /api/rehearsal. `control` must outlive the router.
void add_rehearsal(Router& router, const RehearsalControl& control);

}  // namespace copunctal
