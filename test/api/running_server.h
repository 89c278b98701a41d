// For tests: a server in this process, on a port of its own, with the sample set and a new store.
#pragma once

#include <array>
#include <cstring>
#include <future>
#include <memory>
#include <stdexcept>
#include <stop_token>
#include <thread>

#include "copunctal/app/run_sitting.h"
#include "copunctal/app/run_sitting_sample_set.h"
#include "copunctal/server/server.h"
#include "copunctal/store/scratch_directory.h"
#include "copunctal/store/store.h"

namespace copunctal {

inline Result<std::shared_ptr<const ReadingTables>> without_tables(const PlateSet&) {
  return fail(Error::Kind::bad_input, "no tables in this test");
}

inline std::span<const EmbeddedFile> sample_pages() {
  static constexpr std::string_view page = "<!doctype html><title>page</title>";
  static constexpr std::string_view script = "export {};";
  static const std::array files = {
      EmbeddedFile{"index.html", "text/html; charset=utf-8", std::as_bytes(std::span(page))},
      EmbeddedFile{"assets/app-1a2b3c.js", "text/javascript; charset=utf-8",
                   std::as_bytes(std::span(script))},
  };
  return files;
}

class RunningServer {
 public:
  explicit RunningServer(ServerOptions options = {}, TablesBuilder tables = without_tables,
                         PlateSet set = sample_set()) {
    store_ = *Store::open(scratch_.path(), "2030-01-02T03:04:05.678Z");
    desk_ = *SittingDesk::open(*store_, std::move(set), system_clocks(), kernel_random(),
                               std::move(tables));
    options.port = 0;
    options.stop = stop_.get_token();
    std::promise<std::uint16_t> ready;
    thread_ = std::thread([this, options, &ready] {
      result_ = serve(*desk_, sample_pages(), options,
                      [&](std::uint16_t port) { ready.set_value(port); });
    });
    port_ = ready.get_future().get();
  }
  RunningServer(const RunningServer&) = delete;
  RunningServer& operator=(const RunningServer&) = delete;
  ~RunningServer() { stop(); }

  std::uint16_t port() const { return port_; }
  Store& store() { return *store_; }
  SittingDesk& desk() { return *desk_; }
  void ask_to_stop() { stop_.request_stop(); }
  /// Stops the server and says how it ended.
  Result<void> stop() {
    stop_.request_stop();
    if (thread_.joinable()) thread_.join();
    return result_;
  }

 private:
  ScratchDirectory scratch_;
  std::unique_ptr<Store> store_;
  std::unique_ptr<SittingDesk> desk_;
  std::stop_source stop_;
  Result<void> result_;
  std::uint16_t port_ = 0;
  std::thread thread_;
};

}  // namespace copunctal
