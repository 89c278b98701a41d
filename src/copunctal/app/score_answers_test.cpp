#include "copunctal/app/score_answers.h"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "copunctal/app/run_sitting.h"
#include "copunctal/app/run_sitting_sample_set.h"
#include "copunctal/base/csv.h"
#include "copunctal/base/random.h"
#include "copunctal/base/text.h"
#include "copunctal/store/scratch_directory.h"
#include "copunctal/store/store.h"

using namespace copunctal;

namespace {

const PlateSet& its_set() {
  static const PlateSet set = sample_set();
  return set;
}

std::shared_ptr<const ReadingTables> its_tables() {
  static const auto tables = *build_reading_tables(its_set());
  return tables;
}

std::vector<ScoredSheet> scored(const std::string& csv) {
  auto sheets = answer_sheets_from(its_set(), csv, "answers.csv");
  EXPECT_TRUE(sheets.has_value()) << (sheets ? "" : sheets.error().message);
  if (!sheets) return {};
  return score_answers(its_set(), *its_tables(), *std::move(sheets));
}

/// A sitting through the desk; `answer` says what is read on which plate.
struct Sat {
  SittingOutcome outcome;
  std::vector<std::pair<std::size_t, std::vector<std::string>>> readings;  ///< In order.
};
template <class Answer>
Sat sat(Answer answer) {
  const ScratchDirectory scratch;
  const auto store = *Store::open(scratch.path(), "2030-01-02T03:04:05.678Z");
  const auto desk = *SittingDesk::open(
      *store, its_set(), system_clocks(), kernel_random(),
      [](const PlateSet&) -> Result<std::shared_ptr<const ReadingTables>> { return its_tables(); });
  const auto practical = *desk->create_practical({});
  NewSitting wish;
  wish.consent = true;
  wish.tell = Tell::tell;
  SittingState state = *desk->begin_sitting(practical.id, wish);
  const auto record = *store->read<std::optional<SittingRecord>>(
      [&](const Records& records) { return records.sitting(state.sitting); });
  Sat result;
  while (state.round) {
    const auto items = state.round->items;
    for (const auto& item : items) {
      std::size_t plate = 0;
      for (const ItemRecord& one : record->items)
        if (one.item == item.item) plate = static_cast<std::size_t>(one.plate);
      const std::vector<std::string> symbols = answer(plate);
      const SentAnswer sent{.item = item.item,
                            .symbols = symbols,
                            .end = "answered",
                            .onset_ms = 1000,
                            .response_ms = 2000,
                            .shown_ms = 1000,
                            .frames = 60,
                            .hidden = false,
                            .page_load = std::string(32, 'a')};
      const auto receipt = desk->put_answer(state.sitting, new_id(kernel_random()), sent);
      EXPECT_TRUE(receipt.has_value()) << (receipt ? "" : receipt.error().message);
      if (!receipt) return result;
      state = receipt->state;
      result.readings.emplace_back(plate, symbols);
    }
  }
  result.outcome = *desk->outcome(state.sitting);
  return result;
}

std::string reading_of(const std::vector<std::string>& symbols) {
  return symbols.empty() ? "none" : joined(symbols, "+");
}

std::string long_table(const Sat& person, bool by_number) {
  std::string csv = "pseudonym,plate,reading\r\n";
  for (const auto& [plate, symbols] : person.readings)
    csv += "quiet harbour," +
           (by_number ? std::to_string(plate + 1) : csv_field(its_set().plates[plate].name)) + "," +
           reading_of(symbols) + "\r\n";
  return csv;
}

std::string wide_table(const Sat& person) {
  std::string line = "quiet harbour";
  for (std::size_t plate = 0; plate < its_set().plates.size(); ++plate) {
    line += ",";
    for (const auto& [shown, symbols] : person.readings)
      if (shown == plate) line += reading_of(symbols);
  }
  return answer_table_template(its_set()) + line + "\n";
}

void expect_same(const Debrief& scored, const Debrief& told, double tolerance) {
  EXPECT_EQ(scored.verdict, told.verdict);
  EXPECT_EQ(scored.summary, told.summary);
  EXPECT_EQ(scored.interpretable, told.interpretable);
  EXPECT_EQ(scored.caution, told.caution);
  EXPECT_EQ(scored.assumptions, told.assumptions);
  EXPECT_EQ(scored.prior_text, told.prior_text);
  ASSERT_EQ(scored.evidence.size(), told.evidence.size());
  for (const ObserverEvidence& one : scored.evidence)
    for (const ObserverEvidence& other : told.evidence)
      if (one.observer == other.observer) {
        EXPECT_NEAR(one.log10_likelihood, other.log10_likelihood, tolerance);
        EXPECT_NEAR(one.relative, other.relative, tolerance);
      }
  ASSERT_EQ(scored.kinds.size(), told.kinds.size());
  for (std::size_t i = 0; i < scored.kinds.size(); ++i)
    EXPECT_NEAR(scored.kinds[i].posterior, told.kinds[i].posterior, tolerance);
}

std::string refusal_of(const std::string& csv) {
  const auto sheets = answer_sheets_from(its_set(), csv, "answers.csv");
  EXPECT_FALSE(sheets.has_value()) << csv;
  if (sheets) return {};
  EXPECT_EQ(sheets.error().kind, Error::Kind::bad_input);
  return sheets.error().message + "\n" + sheets.error().remedy;
}

void expect_words(const std::string& text, const std::vector<std::string>& words) {
  for (const std::string& word : words)
    EXPECT_NE(text.find(word), std::string::npos) << "'" << word << "' is not in: " << text;
}

}  // namespace

// The same readings as a sitting and as a table, in each form: twelve sittings, from wholly read to
// wholly missed, with missed openers among them.
TEST(ScoreAnswers, SaysWhatASittingOfTheSameAnswersSays) {
  RandomStream stream(4711);
  std::set<std::string> verdicts;
  int uninterpretable = 0;
  for (int trial = 0; trial < 12; ++trial) {
    const double share_read = trial / 11.0;
    const Sat person = sat([&](std::size_t plate) {
      const auto drawn = drawn_in_sample(its_set(), plate);
      if (stream.uniform() < share_read || (plate == 0 && trial % 3 != 0)) return drawn;
      if (stream.uniform() < 0.5) return std::vector<std::string>{};
      return std::vector<std::string>{
          answer_row(its_set(), its_set().plates[plate])[stream.below(4)]};
    });
    ASSERT_TRUE(person.outcome.debrief.has_value());
    for (const bool by_number : {false, true}) {
      const auto scores = scored(long_table(person, by_number));
      ASSERT_EQ(scores.size(), 1U);
      expect_same(scores[0].debrief, *person.outcome.debrief, 0);
      EXPECT_EQ(scores[0].debrief.plates.size(), person.readings.size());
    }
    // A column a plate puts the readings in another order: the last bits of sums may differ.
    const auto scores = scored(wide_table(person));
    ASSERT_EQ(scores.size(), 1U);
    expect_same(scores[0].debrief, *person.outcome.debrief, 1e-9);
    verdicts.insert(scores[0].debrief.verdict);
    uninterpretable += !scores[0].debrief.interpretable;
  }
  EXPECT_GT(uninterpretable, 0);
  EXPECT_TRUE(verdicts.contains("cannot tell"));
}

TEST(ScoreAnswers, AMissedOpenerLeavesNothingElseSaid) {
  const auto scores = scored("pseudonym,sample a,sample b\nquiet harbour,none,none\n");
  ASSERT_EQ(scores.size(), 1U);
  EXPECT_FALSE(scores[0].debrief.interpretable);
  const auto json = nlohmann::json::parse(scores_json(its_set(), scores));
  EXPECT_TRUE(json.at("people")[0].at("evidence").empty());
  EXPECT_TRUE(json.at("people")[0].at("kinds").empty());
  expect_words(scores_text(its_set(), scores), {"Not interpretable", std::string(intended_use())});
  EXPECT_EQ(scores_text(its_set(), scores).find("Best by"), std::string::npos);
}

TEST(ScoreAnswers, EveryOutcomeCarriesTheIntendedUse) {
  const auto scores = scored("pseudonym,plate,reading\na,1,4\nb,1,4\n");
  const auto json = nlohmann::json::parse(scores_json(its_set(), scores));
  EXPECT_EQ(json.at("intended_use"), intended_use());
  ASSERT_EQ(json.at("people").size(), 2U);
  for (const auto& person : json.at("people"))
    expect_words(person.at("caution"), {std::string(intended_use()), std::string(whom_to_see())});
  expect_words(scores_text(its_set(), scores),
               {std::string(intended_use()), std::string(whom_to_see()), "on paper"});
  for (const char* word : {"screening result", "pass", "fail"})
    EXPECT_EQ(scores_text(its_set(), scores).find(word), std::string::npos) << word;
}

TEST(ScoreAnswers, CountsMissesAndTimesAndSaysWhatIsNotThere) {
  // Sample b and c are vanishing; 1 and 2 are drawn... the drawn symbols are asked for.
  const std::string b = drawn_in_sample(its_set(), 1)[0];
  const auto scores = scored("seconds,reading,plate,pseudonym\n2.5," + b +
                             ",sample b,k\n3.5,none,sample c,k\n,none,18,k\n");
  ASSERT_EQ(scores.size(), 1U);
  EXPECT_EQ(scores[0].vanishing.missed, 1U);
  EXPECT_EQ(scores[0].vanishing.shown, 2U);
  EXPECT_EQ(scores[0].blue_yellow.missed, 1U);
  EXPECT_EQ(scores[0].blue_yellow.shown, 1U);
  EXPECT_DOUBLE_EQ(scores[0].median_seconds.value(), 3.0);
  ASSERT_EQ(scores[0].notes.size(), 2U);
  expect_words(scores[0].notes[0], {"No opener"});
  expect_words(scores[0].notes[1], {"15 of 18"});
}

TEST(ScoreAnswers, EyesAreNeverPooled) {
  const auto scores =
      scored("pseudonym,eye,plate,reading\nk,left,1,4\nk,right,1,none\nk,left,2,none\n");
  ASSERT_EQ(scores.size(), 2U);
  EXPECT_EQ(scores[0].sheet.eye, "left");
  EXPECT_EQ(scores[0].sheet.readings.size(), 2U);
  EXPECT_TRUE(scores[0].debrief.interpretable);
  EXPECT_FALSE(scores[1].debrief.interpretable);
}

TEST(ScoreAnswers, NamesTheCellAndTheNearestRightName) {
  const std::string head = "pseudonym,plate,reading\n";
  expect_words(refusal_of("pseudonym,plate,readng\n"), {"no answers"});
  expect_words(refusal_of("pseudonym,plate,readng\nk,1,4\n"),
               {"answers.csv:1, column 3", "'readng'", "did you mean 'reading'"});
  expect_words(refusal_of("pseudonym,plate\nk,1\n"), {"answers.csv:1, column 3", "'reading'"});
  expect_words(refusal_of("plate,reading\n1,4\n"), {"answers.csv:1", "'pseudonym'"});
  expect_words(refusal_of("pseudonym,plate,plate,reading\nk,1,1,4\n"), {"1, column 3", "twice"});
  expect_words(refusal_of("pseudonym,sample a,sampel b\nk,4,4\n"),
               {"1, column 3", "'sampel b'", "did you mean 'sample b'"});
  expect_words(refusal_of("pseudonym,sample a,1\nk,4,4\n"), {"1, column 3", "two columns"});
  expect_words(refusal_of("pseudonym,sample a,19\nk,4,4\n"), {"1, column 3", "19", "1 to 18"});
  expect_words(refusal_of(head + "k,sample z,4\n"),
               {"answers.csv:2, column 2", "'sample z'", "did you mean 'sample"});
  expect_words(refusal_of(head + "k,0,4\n"), {"2, column 2", "1 to 18"});
  expect_words(refusal_of(head + "k,1,4\nk,2,non\n"),
               {"answers.csv:3, column 3", "'non'", "did you mean 'none'", "1, 2, 4, 7"});
  expect_words(refusal_of(head + "k,1,4\nk,1,4\n"),
               {"answers.csv:3, column 3", "second answer", "sample a", "line 2"});
  expect_words(refusal_of(head + "k,sample a,4\nk,1,\n"), {"3, column 3", "second answer"});
  expect_words(refusal_of(head + "k,1,4+7\n"), {"2, column 3", "1 symbol at most"});
  expect_words(refusal_of(head + "k,13,4+4\n"), {"2, column 3", "'4' twice"});
  expect_words(refusal_of(head + "k,13,1+2+4\n"), {"2, column 3", "2 symbols at most"});
  expect_words(refusal_of(head + ",1,4\n"), {"2, column 1", "empty"});
  expect_words(refusal_of("pseudonym,eye,plate,reading\nk,lefft,1,4\n"),
               {"2, column 2", "'lefft'", "did you mean 'left'"});
  for (const char* seconds : {"fast", "-1", "nan", "1e999", "2,5", "3601"})
    expect_words(
        refusal_of("pseudonym,plate,reading,seconds\nk,1,4,\"" + std::string(seconds) + "\"\n"),
        {"2, column 4", "seconds", "decimal point"});
  expect_words(refusal_of(head + std::string(65, 'k') + ",1,4\n"), {"2, column 1", "longer"});
  expect_words(refusal_of(head + "\"k\nl\",1,4\n"), {"2, column 1", "control"});
  expect_words(refusal_of(head + "k,1,4" + std::string(1, '\0') + "\n"), {"2, column 3", "NUL"});
  expect_words(refusal_of(head + "k\xFF,1,4\n"), {"2, column 1", "UTF-8"});
  expect_words(refusal_of(""), {"no answers", "--template"});
}
