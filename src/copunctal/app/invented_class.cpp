#include "copunctal/app/invented_class.h"

#include <algorithm>
#include <map>
#include <memory>
#include <optional>
#include <utility>

#include <nlohmann/json.hpp>

#include "copunctal/base/expects.h"
#include "copunctal/base/hash.h"
#include "copunctal/base/random.h"
#include "copunctal/inference/posterior.h"
#include "copunctal/plate/gate_path.h"
#include "copunctal/plate/symbols.h"
#include "copunctal/reader/reader.h"

namespace copunctal {
namespace {

using nlohmann::json;

// Which stream of the seed is for what.
enum Stream : std::uint32_t { who = 1, eye = 2, look = 3, name = 4 };

std::size_t drawn_from(const std::vector<double>& weights, RandomStream& random) {
  double sum = 0;
  for (const double weight : weights) sum += weight;
  double left = random.uniform() * sum;
  for (std::size_t i = 0; i + 1 < weights.size(); ++i)
    if ((left -= weights[i]) < 0) return i;
  return weights.size() - 1;
}

/// Kind by the priors of an outcome, the separation by the shares stated with them.
std::string observer_by_lot(bool is_man, RandomStream& random) {
  const auto prior = is_man ? kind_prior_men() : kind_prior_women();
  constexpr double dichromat_protans = 0.5, dichromat_deutans = 0.2;
  const auto separated = [&](const std::string& kind, double dichromats) {
    if (random.uniform() < dichromats) return kind + ":0";
    static const std::vector<std::string> anomalous = {"3", "5", "8", "10", "12"};
    return kind + ":" + anomalous[random.below(static_cast<std::uint32_t>(anomalous.size()))];
  };
  switch (drawn_from({prior.begin(), prior.end()}, random)) {
    case 1:
      return separated("protan", dichromat_protans);
    case 2:
      return separated("deutan", dichromat_deutans);
    case 3:
      return "tritan";
    default:
      return "normal";
  }
}

/// A plate as pixels, prepared for looking at: whichever diagonal or path shape shows most.
class SeenPlate {
 public:
  static Result<std::shared_ptr<const SeenPlate>> of(const std::string& rgb, std::size_t side,
                                                     const std::vector<std::string>& symbols,
                                                     int figures) {
    Picture picture(static_cast<int>(side), static_cast<int>(side));
    std::transform(rgb.begin(), rgb.end(), picture.rgb.begin(),
                   [](char byte) { return static_cast<std::uint8_t>(byte); });
    auto seen = std::make_shared<SeenPlate>();
    const auto elements = elements_from(picture);
    if (!elements) return seen;  // nothing but a ground to be seen: no figure
    if (figures == 2) {
      seen->looks_.emplace_back(*elements, symbols,
                                std::vector{Place::upper_left, Place::lower_right});
      seen->looks_.emplace_back(*elements, symbols,
                                std::vector{Place::upper_right, Place::lower_left});
    } else {
      const bool is_path = family_of(symbols.front()) == SymbolFamily::paths;
      for (std::size_t shape = 0; shape < (is_path ? path_shapes : 1); ++shape)
        seen->looks_.emplace_back(*elements, symbols, std::vector{Place::whole},
                                  DiscriminationModel{}, shape);
    }
    return seen;
  }

  /// What this eye reads: symbols of the row, ascending as the row is.
  std::vector<std::string> read(const Eye& by, const std::vector<std::string>& symbols,
                                RandomStream random) const {
    if (looks_.empty()) return {};
    const auto strength = [&](const PlateReader& reader) {
      double sum = 0;
      for (const SlotEvidence& slot : reader.evidence(by)) sum += slot.strength(slot.best());
      return sum;
    };
    const PlateReader& reader = *std::max_element(
        looks_.begin(), looks_.end(),
        [&](const PlateReader& a, const PlateReader& b) { return strength(a) < strength(b); });
    std::vector<bool> is_read(symbols.size());
    for (const int answer : reader.sample(by, random))
      if (answer >= 0) is_read[static_cast<std::size_t>(answer)] = true;
    std::vector<std::string> read;
    for (std::size_t k = 0; k < symbols.size(); ++k)
      if (is_read[k]) read.push_back(symbols[k]);
    return read;
  }

 private:
  std::vector<PlateReader> looks_;
};

tl::unexpected<Error> unexpected_reply(const std::string& what, const RouteReply& reply) {
  return fail(Error::Kind::io,
              "the rehearsal stopped: " + what + " was answered with " +
                  std::to_string(reply.status) + " " + reply.body.substr(0, 300),
              "rehearsal", what, "this would happen on the day, too: look into it");
}

Result<json> asked(const AskRoute& ask, const std::string& method, const std::string& path,
                   const json& body, int wanted) {
  const RouteReply reply = ask(method, path, method == "GET" ? "" : body.dump());
  if (reply.status != wanted) return unexpected_reply(method + " " + path, reply);
  json parsed = json::parse(reply.body, nullptr, false);
  if (!parsed.is_object()) return unexpected_reply(method + " " + path, reply);
  return parsed;
}

/// The class while it sits.
class Playing {
 public:
  Playing(const std::vector<InventedPerson>& people, std::uint64_t seed, const Display& display,
          std::string practical, bool lends, const AskRoute& ask)
      : people_(people),
        seed_(seed),
        practical_(std::move(practical)),
        lends_(lends),
        ask_(ask),
        sitters_(people.size()) {
    for (std::size_t p = 0; p < people.size(); ++p) {
      const IndividualEyes individuals(*observer_from(people[p].observer), display);
      const auto index = static_cast<std::uint32_t>(p);
      sitters_[p].eye = individuals(RandomStream(seed, Stream::eye).bits64(), index);
    }
    report_.people = people.size();
  }

  InventedReport& report() { return report_; }

  /// Comes in; nothing more for who refuses.
  Result<void> begin(std::size_t p) {
    const InventedPerson& person = people_[p];
    const json consent = {{"consent", !person.refuses},
                          {"tell", p % 3 == 0   ? "tell"
                                   : p % 3 == 1 ? "later"
                                                : "dont_tell"},
                          {"sex_at_birth", person.is_man ? "male" : "female"},
                          {"purposes", {"class"}},
                          {"on_loan", lends_ && person.takes_loan && !person.is_off_record},
                          {"off_record", person.is_off_record}};
    const std::string path = "/api/practicals/" + practical_ + "/sittings";
    constexpr int created = 201, invalid = 422;
    COPUNCTAL_TRY(json state,
                  asked(ask_, "POST", path, consent, person.refuses ? invalid : created));
    if (person.refuses) {
      ++report_.refused;
      return {};
    }
    sitters_[p].state = std::move(state);
    ++report_.sittings;
    if (person.is_late) ++report_.late;
    if (person.is_off_record) ++report_.off_record;
    if (sitters_[p].state["on_loan"] == true) ++report_.by_lot;
    return {};
  }

  /// Whether there is a plate yet to be answered, by what this person's page knows.
  bool is_sitting(std::size_t p) const { return next_item(sitters_[p]) != nullptr; }

  /// Looks at the next plate and answers. While the network is cut, the answer waits.
  Result<void> answer(std::size_t p, bool is_cut) {
    Sitter& sitter = sitters_[p];
    COPUNCTAL_TRY_VOID(prepare(sitter));
    const json* const item = next_item(sitter);
    expects(item != nullptr);
    const auto number = (*item)["item"].get<std::int64_t>();
    const auto symbols = sitter.state["symbols"].get<std::vector<std::string>>();
    RandomStream random(seed_, Stream::look, static_cast<std::uint32_t>(p),
                        static_cast<std::uint32_t>(number));
    const double shown_ms = 900 + 1800 * random.uniform(),
                 onset_ms = 1000.0 * static_cast<double>(2 + number);
    const auto read =
        sitter.plates.at((*item)["plate"].get<std::string>())->read(sitter.eye, symbols, random);
    RandomStream naming(seed_, Stream::name, static_cast<std::uint32_t>(p),
                        static_cast<std::uint32_t>(number));
    const std::string page =
        id_from(RandomStream(seed_, Stream::name, static_cast<std::uint32_t>(p)));
    Waiting waiting{id_from(naming),
                    {{"item", number},
                     {"symbols", read},
                     {"end", "answered"},
                     {"onset_ms", onset_ms},
                     {"response_ms", onset_ms + shown_ms},
                     {"shown_ms", shown_ms},
                     {"frames", static_cast<std::int64_t>(shown_ms * 0.06)},
                     {"hidden", false},
                     {"page_load", page}}};
    sitter.queue.push_back(std::move(waiting));
    if (is_cut && people_[p].is_cut_off) {
      ++report_.queued;
      for (json& known : sitter.state["round"]["items"])
        if (known["item"] == number) known["answered"] = true;
      return {};
    }
    return send(p);
  }

  /// Sends what waits, the first of several twice: its reply was lost.
  Result<void> send(std::size_t p) {
    Sitter& sitter = sitters_[p];
    const bool was_cut = sitter.queue.size() > 1;
    for (std::size_t i = 0; i < sitter.queue.size(); ++i) {
      COPUNCTAL_TRY_VOID(put(sitter, sitter.queue[i], "stored"));
      ++report_.answers;
      if (!was_cut || i > 0) continue;
      COPUNCTAL_TRY_VOID(put(sitter, sitter.queue[i], "duplicate"));
      ++report_.sent_again;
    }
    sitter.queue.clear();
    if (sitter.state["round"].is_null()) ++report_.ended;
    return {};
  }
  bool has_waiting(std::size_t p) const { return !sitters_[p].queue.empty(); }

  /// A page has the plates of its round before it shows the first.
  Result<void> prepare(std::size_t p) { return prepare(sitters_[p]); }

 private:
  struct Waiting {
    std::string id;
    json body;
  };
  struct Sitter {  // NOLINT(bugprone-exception-escape): moving its map allocates nothing
    Eye eye;
    json state;  ///< As the program told it last; null before.
    std::map<std::string, std::shared_ptr<const SeenPlate>> plates;
    std::vector<Waiting> queue;
  };

  static std::string id_from(RandomStream random) {
    constexpr std::string_view digits = "0123456789abcdef";
    constexpr std::size_t size = 32;
    std::string id;
    for (std::size_t i = 0; i < size; ++i) id += digits[random.below(16)];
    return id;
  }

  static const json* next_item(const Sitter& sitter) {
    if (!sitter.state.is_object() || sitter.state["round"].is_null()) return nullptr;
    for (const json& item : sitter.state["round"]["items"])
      if (item["answered"] == false) return &item;
    return nullptr;
  }

  Result<void> prepare(Sitter& sitter) {
    if (!sitter.state.is_object() || sitter.state["round"].is_null()) return {};
    const json& round = sitter.state["round"];
    for (const json& item : round["items"]) {
      const auto plate = item["plate"].get<std::string>();
      if (sitter.plates.contains(plate)) continue;
      const std::string path =
          "/api/sittings/" + sitter.state["sitting"].get<std::string>() + "/plates/" + plate;
      const RouteReply reply = ask_("GET", path, "");
      const auto side = sitter.state["size_px"].get<std::size_t>();
      constexpr int good = 200;
      if (reply.status != good || reply.body.size() != 3 * side * side)
        return unexpected_reply("GET " + path, reply);
      const auto symbols = sitter.state["symbols"].get<std::vector<std::string>>();
      const int figures = round["figures"].get<int>();
      std::string key = sha256_hex(reply.body) + std::to_string(figures);
      for (const std::string& symbol : symbols) key += "," + symbol;
      auto& kept = seen_[key];
      if (kept == nullptr) {
        COPUNCTAL_TRY(kept, SeenPlate::of(reply.body, side, symbols, figures));
      }
      sitter.plates[plate] = kept;
    }
    return {};
  }

  Result<void> put(Sitter& sitter, const Waiting& waiting, const char* wanted) {
    const std::string path =
        "/api/sittings/" + sitter.state["sitting"].get<std::string>() + "/answers/" + waiting.id;
    constexpr int good = 200;
    COPUNCTAL_TRY(json receipt, asked(ask_, "PUT", path, waiting.body, good));
    if (receipt["status"] != wanted)
      return unexpected_reply("PUT " + path, {good, receipt["status"].dump()});
    sitter.state = receipt["state"];
    return {};
  }

  const std::vector<InventedPerson>& people_;
  const std::uint64_t seed_;
  const std::string practical_;
  const bool lends_;
  const AskRoute& ask_;
  std::vector<Sitter> sitters_;
  std::map<std::string, std::shared_ptr<const SeenPlate>> seen_;  ///< By what is in the pixels.
  InventedReport report_;
};

}  // namespace

std::vector<InventedPerson> invented_class(std::size_t people, std::uint64_t seed) {
  expects(people >= fewest_invented && people <= most_invented);
  std::vector<InventedPerson> all(people);
  for (std::size_t p = 0; p < people; ++p) {
    RandomStream random(seed, Stream::who, static_cast<std::uint32_t>(p));
    InventedPerson& person = all[p];
    person.is_man = random.uniform() < 0.5;
    person.observer = observer_by_lot(person.is_man, random);
    person.is_cut_off = p % 3 == 0;
    person.takes_loan = p % 4 == 1;
  }
  all[1].refuses = true;
  all[2].is_off_record = true;
  all[people - 1].is_late = all[people - 2].is_late = true;
  return all;
}

Result<InventedReport> play_invented_class(
    const std::vector<InventedPerson>& people, std::uint64_t seed, const Display& display,
    const std::string& practical, bool lends, const AskRoute& ask,
    const std::function<bool()>& wait, const std::function<void(const InventedReport&)>& report) {
  Playing playing(people, seed, display, practical, lends, ask);
  // The network is cut while the others are at these plates, counted round by round.
  constexpr std::size_t cut_from = 3, cut_until = 6, late_from = 4;
  const auto stopped = [] {
    return fail(Error::Kind::stopped, "the rehearsal was ended", "rehearsal", "", "begin another");
  };
  for (std::size_t p = 0; p < people.size(); ++p)
    if (!people[p].is_late) {
      COPUNCTAL_TRY_VOID(playing.begin(p));
      report(playing.report());
    }
  bool has_late_begun = false;
  for (std::size_t turn = 0;; ++turn) {
    const bool is_cut = turn >= cut_from && turn < cut_until;
    if (turn == late_from) {
      for (std::size_t p = 0; p < people.size(); ++p)
        if (people[p].is_late) {
          COPUNCTAL_TRY_VOID(playing.begin(p));
        }
      has_late_begun = true;
    }
    bool is_anybody = false;
    for (std::size_t p = 0; p < people.size(); ++p) {
      if (turn == cut_until && playing.has_waiting(p)) {
        COPUNCTAL_TRY_VOID(playing.send(p));
      }
      if (!playing.is_sitting(p)) continue;
      is_anybody = true;
      if (!wait()) return stopped();
      COPUNCTAL_TRY_VOID(playing.answer(p, is_cut));
      report(playing.report());
    }
    if (!is_anybody && has_late_begun && turn > cut_until) break;
  }
  return playing.report();
}

}  // namespace copunctal
