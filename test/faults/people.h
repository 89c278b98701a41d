// The clients of the fault tests: people who answer, lose touch, and go on under the same ids.
//
// Each runs sittings at one connection. What was sent and what was acknowledged goes into the
// ledger; an answer whose acknowledgement was never seen is sent again, byte for byte.
#pragma once

#include <atomic>
#include <cstdint>
#include <functional>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "api/http_client.h"
#include "copunctal/base/random.h"
#include "faults/ledger.h"

namespace copunctal {

/// Whether a 503 is as docs/api.md has it, with words a person can act on.
bool is_proper_refusal(const Reply& reply);

/// When a fault happens, decided before each run of the server: with which answer, at which point.
struct Plan {
  enum class Point { at_acknowledgement, before_reply } point;
  int answer;              ///< Counted over all people since the start.
  std::uint32_t delay_us;  ///< After the request has left.
};

/// Half of them at an acknowledgement, half within two milliseconds after a request has left.
Plan new_plan(RandomStream& random);

/// Shared by the people during one run of the server.
struct Run {
  Ledger& ledger;
  std::uint16_t port;                ///< Of the server.
  std::optional<Plan> plan = {};     ///< Nothing: answer what is left and end.
  std::function<void()> fault = {};  ///< What the plan sets off; called once, by one of the people.
  std::uint16_t other = 0;           ///< Of a second server with the same data, asked in turn.
  std::uint16_t way = 0;             ///< The port to connect to instead, of something in between.
  bool deafens = false;              ///< What is heard after the fault counts as not heard.
  bool may_refuse = false;           ///< 503 is met by giving up, and is no fault of the server.
  /// Called with each 503 that is met, by whoever meets it.
  std::function<void(const Reply&)> on_unavailable = {};
  std::atomic<int> sent = 0, acknowledged = 0;
  std::atomic<bool> is_over = false;
};

struct Counts {
  std::atomic<int> retries_stored = 0, retries_duplicate = 0, refused = 0;
};

/// One person at one connection, who goes on after every restart.
class Person {
 public:
  Person(std::uint64_t seed, std::uint32_t number) : random_(seed, 1, number) {}

  /// Answers until the server is gone or, without a plan, until this sitting has ended.
  void answer_until_over(Run& run, Counts& counts);

  /// Whether an answer was sent that nobody acknowledged.
  bool owes_an_answer() const { return pending_.has_value(); }
  bool has_ended() const { return !state_.is_null() && state_["round"].is_null(); }

 private:
  struct Pending {
    std::string id, body;
    bool is_retry = false;
  };

  /// The connections of one run.
  class Way;

  /// Chooses the next item, beginning a new sitting when there is none.
  bool prepare(Way& way, Run& run, Counts& counts);
  bool begin(Way& way, Run& run, Counts& counts);
  /// The reply's body when it has `status`.
  std::optional<nlohmann::json> taken(const std::optional<Reply>& reply, int status, Run& run,
                                      Counts& counts);
  bool send_pending(Way& way, Run& run, Counts& counts);
  bool take(const nlohmann::json& receipt, Run& run, Counts& counts);
  bool lost_touch();
  std::string new_id();

  RandomStream random_;
  const std::string page_load_ = new_id();
  std::string practical_;
  nlohmann::json state_;
  std::optional<Pending> pending_;
};

std::vector<Person> new_people(std::uint64_t seed, int count);

/// Lets all of them answer at once; trouble of one counts as refused and is printed.
void run_people(std::vector<Person>& people, Run& run, Counts& counts);

}  // namespace copunctal
