// `preflight`: can the devices of this room reach this computer, and can they show a plate?
#include <chrono>
#include <condition_variable>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <mutex>
#include <stop_token>
#include <string>
#include <system_error>
#include <thread>
#include <vector>

#include <unistd.h>

#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/app/preflight.h"
#include "copunctal/app/run_sitting.h"
#include "copunctal/base/text.h"
#include "copunctal/cli/class_network.h"
#include "copunctal/cli/commands.h"
#include "copunctal/cli/output.h"
#include "copunctal/cli/served.h"
#include "copunctal/server/interfaces.h"
#include "copunctal/server/join_code.h"
#include "copunctal/server/qr.h"
#include "copunctal/server/room_routes.h"
#include "copunctal/server/server.h"

namespace copunctal {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* firewall_words =
    "If no device gets through though it is in the same network, either this computer's firewall "
    "keeps the port shut, or the network keeps its devices from each other (client isolation, "
    "usual for guests): ask whoever runs it, or take a router of your own.";

/// What can be said of this computer alone.
struct Machine {
  std::vector<NetworkAddress> addresses;
  std::optional<CertificateTerms> certificate;
};

std::int64_t unix_seconds() {
  return std::chrono::duration_cast<std::chrono::seconds>(
             std::chrono::system_clock::now().time_since_epoch())
      .count();
}

std::string words_of(const Machine& machine, std::uint16_t port) {
  std::string text;
  for (const NetworkAddress& one : machine.addresses)
    text += "Interface " + one.interface + ": " + one.address + "\n";
  text += "Port " + std::to_string(port) + " is free.\n";
  if (machine.certificate)
    text += "The certificate is for " + joined(machine.certificate->names, ", ") + ", until " +
            machine.certificate->until_utc + " (" + std::to_string(machine.certificate->days_left) +
            " days).\n";
  return text + firewall_words + "\n";
}

/// A device, and a line for each thing that is not as it should be.
std::string words_of(const CheckedDevice& device) {
  const FindingState worst = worst_of(device.findings);
  std::string text = device.pseudonym + ", " +
                     (device.device == 0 ? std::string("this computer")
                                         : "device " + std::to_string(device.device)) +
                     ": " +
                     (worst == FindingState::fine ? "all fine" : std::string(name_of(worst)));
  for (const DisplayFinding& finding : device.findings)
    if (finding.state != FindingState::fine || finding.what == "refresh" || finding.what == "plate")
      text += "\n  " + finding.what + " (" + std::string(name_of(finding.state)) +
              "): " + finding.words;
  return text + "\n";
}

std::string address_of(const ClassState& state) {
  return state.network ? state.network->url() + "preflight#" + state.code : "";
}

std::string welcome(const ClassState& state, std::uint16_t port) {
  std::string text = "On this computer: http://127.0.0.1:" + std::to_string(port) + "/preflight\n";
  if (!state.network)
    return text + "No other device is let in: add --lan or --lan-plain for that.\n";
  text += "On each device: " + address_of(state) + "\nor " + state.network->url() +
          " with the code " + shown_code(state.code) + "\n";
  if (state.network->is_tls)
    text += "SHA-256 fingerprint of the certificate: " + state.network->fingerprint + "\n";
  if (isatty(STDOUT_FILENO) == 1) {
    const char* no_colour = std::getenv("NO_COLOR");  // NOLINT(concurrency-mt-unsafe): never set
    const bool is_plain = no_colour != nullptr && *no_colour != '\0';
    if (const auto code = qr_lines(address_of(state), is_plain)) text += "\n" + *code;
  }
  return text;
}

Json json_of(const Machine& machine, const std::vector<CheckedDevice>& devices,
             const ClassState& state, std::uint16_t port) {
  Json addresses = Json::array(), certificate = nullptr;
  for (const NetworkAddress& one : machine.addresses)
    addresses.push_back({{"interface", one.interface}, {"address", one.address}});
  if (machine.certificate)
    certificate = {{"names", machine.certificate->names},
                   {"until_utc", machine.certificate->until_utc},
                   {"days_left", machine.certificate->days_left}};
  return {{"machine",
           {{"addresses", addresses},
            {"port", port},
            {"address", state.network ? Json(state.network->url()) : Json(nullptr)},
            {"certificate", certificate},
            {"firewall", firewall_words}}},
          {"devices", Json::parse(devices_json(devices))},
          {"intended_use", intended_use()}};
}

/// The key is the one of `serve`, so that what a device was told to trust holds on the day.
Result<std::optional<ClassListener>> listener(const ServeOptions& served, Machine& machine) {
  COPUNCTAL_TRY(machine.addresses, network_addresses());
  COPUNCTAL_TRY(const auto address, address_for_the_class(served));
  std::filesystem::path data;
  if (served.lan) {
    COPUNCTAL_TRY(const std::string named, data_directory(served.data));
    data = named;
    std::error_code trouble;
    if (!std::filesystem::exists(data, trouble)) {
      std::filesystem::create_directories(data, trouble);
      std::filesystem::permissions(data, std::filesystem::perms::owner_all, trouble);
    }
    if (trouble)
      return fail(Error::Kind::io, data.string() + " cannot be made: " + trouble.message(), "data",
                  data.string(), "name another directory with --data");
  }
  COPUNCTAL_TRY(auto found, listener_for_the_class(served, address, data));
  if (found && found->tls) {
    COPUNCTAL_TRY(machine.certificate, terms_of(*found->tls, unix_seconds()));
  }
  return found;
}

}  // namespace

int preflight_command(const PreflightOptions& options) {
  Machine machine;
  auto found = listener(options.served, machine);
  if (!found) return failed(found.error());
  ClassDoor door(kernel_random(), system_clocks().steady_ns);
  std::stop_source stop;
  std::mutex printing;
  const auto put = [&](const std::string& text) {
    const std::lock_guard lock(printing);
    if (options.json) return say(text);
    print(text);
    if (!written()) stop.request_stop();
  };
  const auto files = pages();
  const Site site(
      files, [](std::string_view trouble) { say("copunctal: " + std::string(trouble)); }, door,
      [&](const CheckedDevice& device) { put(words_of(device)); });
  ServerOptions server;
  server.port = options.served.port;
  server.stop = stop.get_token();
  server.door = &door;
  server.listener = *std::move(found);
  std::uint16_t port = 0;
  ClassState state;
  std::jthread limit;
  const auto served = serve(site, server, [&](std::uint16_t bound) {
    port = bound;
    state = door.state();
    put(words_of(machine, port) + welcome(state, port) + std::string(intended_use()) + "\n");
    if (options.seconds == 0) return;
    limit = std::jthread(
        [&stop, wait = std::chrono::seconds(options.seconds)](const std::stop_token& ended) {
          std::mutex idle;
          std::condition_variable_any never;
          std::unique_lock lock(idle);
          never.wait_for(lock, ended, wait, [] { return false; });
          stop.request_stop();
        });
  });
  if (!served) return failed(served.error());
  if (options.json) print(json_of(machine, site.checked_devices(), state, port).dump(1) + "\n");
  return 0;
}

}  // namespace copunctal
