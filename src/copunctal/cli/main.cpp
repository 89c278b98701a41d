// argv to commands. The only file that knows the option parser.
#include <algorithm>
#include <cstdio>
#include <exception>
#include <optional>
#include <sstream>
#include <string>
#include <vector>

#include <CLI/CLI.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/cli/commands.h"
#include "copunctal/cli/output.h"

namespace {

using namespace copunctal;  // NOLINT(google-build-using-namespace): the program's own main

// The option parser by itself takes "nan", "inf" and hexadecimal for numbers.
CLI::Validator finite() {
  return {[](const std::string& text) {
            return number_from(text) ? std::string()
                                     : "'" + text + "' is not a number; give one such as 1.5";
          },
          ""};
}
CLI::Validator whole_number(unsigned long long least, unsigned long long most) {
  return {[=](const std::string& text) {
            const auto number = whole_number_from(text);
            return number && *number >= least && *number <= most
                       ? std::string()
                       : "'" + text + "' is not a whole number from " + std::to_string(least) +
                             " to " + std::to_string(most);
          },
          ""};
}

// The first word that should be a command and is none: {"plates", "burn"}, with what could stand
// there. Nothing when all are known.
struct UnknownCommand {
  std::string words;
  std::string known;
};
std::optional<UnknownCommand> unknown_command(const CLI::App& app, int argc, char** argv) {
  const CLI::App* at = &app;
  std::string words;
  for (int i = 1; i < argc && argv[i][0] != '-'; ++i) {
    const auto commands = at->get_subcommands({});
    if (commands.empty()) return {};
    words += (i > 1 ? " " : "") + std::string(argv[i]);
    const auto found = std::find_if(commands.begin(), commands.end(), [&](const CLI::App* one) {
      return one->get_name() == argv[i];
    });
    if (found == commands.end()) {
      std::vector<std::string> known;
      known.reserve(commands.size());
      for (const CLI::App* one : commands) known.push_back(one->get_name());
      return UnknownCommand{words, joined(known, ", ")};
    }
    at = *found;
  }
  return {};
}

int run(int argc, char** argv) {
  CLI::App app("Copunctal: the practical in which a class finds out who sees what.");
  app.footer(std::string(intended_use()));
  app.set_version_flag("--version", COPUNCTAL_VERSION);
  app.require_subcommand(1);
  int code = 0;

  ServeOptions serve;
  auto* serve_app = app.add_subcommand(
      "serve", "Serve the pages on this computer, and a class on its own devices");
  serve_app->add_option("--data", serve.data, "Directory of practicals [~/.local/share/copunctal]");
  serve_app->add_option("--database", serve.database,
                        "Keep practicals in this PostgreSQL database, which servers can share");
  serve_app->add_option("--set", serve.set, "A set made with `plates make` [the default set]");
  serve_app->add_option("--display", serve.display, "Display of the default set")
      ->capture_default_str();
  serve_app->add_option("--seed", serve.seed, "Seed of the default set")->capture_default_str();
  serve_app->add_option("--port", serve.port, "Port; 0 takes any free one")
      ->check(whole_number(0, 65535))
      ->capture_default_str();
  auto* lan = serve_app->add_flag("--lan", serve.lan,
                                  "Let a class in over the room's network, encrypted, for 8 hours");
  serve_app
      ->add_flag("--lan-plain", serve.lan_plain,
                 "The same without encryption: anybody in the network can read along")
      ->excludes(lan);
  serve_app->add_option("--interface", serve.interface,
                        "With these: the network's interface or IPv4 address [the only one]");
  serve_app->callback([&] { code = serve_command(serve); });

  PreflightOptions preflight;
  auto* preflight_app = app.add_subcommand(
      "preflight", "Can the devices of this room reach this computer and show a plate?");
  preflight_app->add_option("--data", preflight.served.data,
                            "Directory with the class's key [~/.local/share/copunctal]");
  preflight_app->add_option("--port", preflight.served.port, "Port; 0 takes any free one")
      ->check(whole_number(0, 65535))
      ->capture_default_str();
  auto* preflight_lan =
      preflight_app->add_flag("--lan", preflight.served.lan, "Let devices in, encrypted");
  preflight_app->add_flag("--lan-plain", preflight.served.lan_plain, "The same without encryption")
      ->excludes(preflight_lan);
  preflight_app->add_option("--interface", preflight.served.interface,
                            "With these: the network's interface or IPv4 address [the only one]");
  preflight_app
      ->add_option("--for", preflight.seconds, "End after so many seconds [when interrupted]")
      ->check(whole_number(1, 86400));
  preflight_app->add_flag("--json", preflight.json, "At the end, all of it as JSON");
  preflight_app->callback([&] { code = preflight_command(preflight); });

  RehearseOptions rehearse;
  rehearse.served.port = 0;
  auto* rehearse_app = app.add_subcommand(
      "rehearse", "A practical with an invented class; nothing of it is left afterwards");
  rehearse_app->add_option("--people", rehearse.people, "People of the invented class, 6 to 300")
      ->check(whole_number(6, 300))
      ->capture_default_str();
  rehearse_app->add_option("--seed", rehearse.seed, "Seed of the class")->capture_default_str();
  rehearse_app
      ->add_option("--for", rehearse.seconds, "Seconds over which the class answers, 0 to 3600")
      ->check(whole_number(0, 3600))
      ->capture_default_str();
  rehearse_app->add_option("--data", rehearse.served.data,
                           "Directory of practicals [~/.local/share/copunctal]");
  rehearse_app->add_option("--set", rehearse.served.set,
                           "A set made with `plates make` [the default set]");
  rehearse_app->add_option("--port", rehearse.served.port, "Port; 0 takes any free one")
      ->check(whole_number(0, 65535))
      ->capture_default_str();
  auto* alone_flag = rehearse_app->add_flag("--alone", rehearse.alone,
                                            "Open, close and debrief it without anybody");
  rehearse_app->add_flag("--json", rehearse.json, "With --alone: the result as JSON")
      ->needs(alone_flag);
  rehearse_app->add_flag("--wipe", rehearse.wipe, "Only remove what a rehearsal left")
      ->excludes(alone_flag);
  rehearse_app->callback([&] { code = rehearse_command(rehearse); });

  auto* plates = app.add_subcommand("plates", "Make plates and predict who reads them");
  plates->require_subcommand(1);
  PlatesMakeOptions make;
  auto* make_app = plates->add_subcommand("make", "Design a set of plates for a display");
  make_app->add_option("--for", make.purpose, "What the set is for: practical, ladder or exhibits")
      ->required();
  make_app->add_option("--display", make.display, "Display, such as srgb or display-p3/wled")
      ->required();
  make_app->add_option("--seed", make.seed, "Whole number; the same gives the same set")
      ->required();
  make_app->add_option("--loan", make.loan,
                       "An observer to lend: normal viewers then answer as that observer would");
  auto* count = make_app->add_option("--plates", make.plates, "Of a practical: how many, 8 to 30")
                    ->check(whole_number(fewest_plates, most_plates))
                    ->capture_default_str();
  make_app
      ->add_option("--minutes", make.minutes,
                   "Instead of --plates: as many as so much time allows, at 8 s a plate")
      ->check(CLI::Range(1.0, 60.0))
      ->excludes(count);
  make_app->add_option("--cells", make.cells, "Pebbles a plate is packed of, 300 to 1300")
      ->check(whole_number(fewest_cells, most_cells))
      ->capture_default_str();
  make_app
      ->add_option("--symbols", make.symbols,
                   "What plates show: digits, digits:1,2,4,7 (any), rings or paths")
      ->capture_default_str();
  make_app->add_option("-o", make.out, "Directory to make")->required();
  make_app->add_flag("--json", make.json, "Result as JSON");
  make_app->callback([&] { code = plates_make(make); });
  PlatesPredictOptions predict;
  auto* predict_app = plates->add_subcommand("predict", "Compute who reads which plate");
  predict_app->add_option("set", predict.set, "Directory of the set")->required();
  predict_app->add_option("--population", predict.population, "Fresh observers of each kind")
      ->check(whole_number(10, 10'000'000))
      ->capture_default_str();
  predict_app
      ->add_option("--gain", predict.gain,
                   "Post-receptoral gain of anomalous observers: 0 none, 1 a normal's signal")
      ->check(CLI::Range(0.0, 1.0))
      ->capture_default_str();
  predict_app
      ->add_option("--sittings", predict.sittings,
                   "Sittings to simulate of each kind: how they end")
      ->check(whole_number(1, 100000));
  predict_app->add_flag("--ranges", predict.ranges,
                        "Vary the assumptions one at a time: how far the numbers move");
  predict_app->add_option("--fails", predict.fails, "A plate's name: how it fails");
  predict_app->add_option("--display", predict.display,
                          "Another display, a name or a file [the set's own]");
  predict_app->add_flag("--json", predict.json, "Result as JSON");
  predict_app->callback([&] { code = plates_predict(predict); });
  PlatesShowOptions show;
  auto* show_app = plates->add_subcommand("show", "Plates with who reads them, or taken apart");
  show_app->add_option("set", show.set, "Directory of the set")->required();
  show_app->add_option("--plate", show.plate, "One plate by its name [all]");
  show_app->add_flag("--apart", show.apart,
                     "One plate as the three cones get it and as the three mechanisms do");
  show_app->add_option("--as", show.observer, "With --apart: an observer")->capture_default_str();
  show_app->add_option("--display", show.display,
                       "Another display, a name or a file [the set's own]");
  show_app->add_option("-o", show.out, "SVG or PNG file")->required();
  show_app->add_flag("--force", show.force, "Replace an existing file");
  show_app->callback([&] { code = plates_show(show); });
  PlatesDrawOptions draw;
  auto* draw_app = plates->add_subcommand("draw", "Draw plates as pictures or pages");
  draw_app->add_option("set", draw.set, "Directory of the set")->required();
  draw_app->add_option("--plate", draw.plate, "One plate by its name [all]");
  draw_app->add_option("--bits", draw.bits, "Of a PNG's codes: 8 or 16")
      ->check(CLI::IsMember({8, 16}))
      ->capture_default_str();
  draw_app->add_option("--size", draw.size_px, "Side of a picture in pixels")
      ->check(whole_number(100, 4000))
      ->capture_default_str();
  draw_app->add_option("--width-mm", draw.width_mm, "Width of a plate on paper, mm")
      ->check(CLI::Range(50.0, 180.0))
      ->capture_default_str();
  draw_app->add_flag("--answer-sheet", draw.answer_sheet, "A sheet to answer on instead, as PDF");
  draw_app->add_option("--printer-profile", draw.printer_profile,
                       "ICC profile of the printer: says what it does to the colours");
  draw_app->add_option("-o", draw.out, "PDF, SVG or PNG file, or a directory for pictures of all")
      ->required();
  draw_app->add_flag("--force", draw.force, "Replace an existing file");
  draw_app->callback([&] { code = plates_draw(draw); });

  ScoreOptions score;
  auto* score_app = app.add_subcommand("score", "Answers of paper sheets, scored as a sitting is");
  score_app->add_option("answers", score.answers, "CSV file of answers");
  score_app->add_option("--set", score.set, "Directory of the set")->required();
  score_app->add_flag("--template", score.is_template, "Print the empty CSV instead");
  score_app->add_flag("--json", score.json, "Result as JSON");
  score_app->callback([&] { code = score_command(score); });

  PracticalOptions kept;
  auto* practical = app.add_subcommand("practical", "Practicals kept on this computer");
  practical->require_subcommand(1);
  const auto add_practical = [&](const char* name, const char* what,
                                 int (*command)(const PracticalOptions&)) {
    auto* added = practical->add_subcommand(name, what);
    added->add_option("--data", kept.data, "Directory of practicals [~/.local/share/copunctal]");
    added->add_option("--database", kept.database, "The PostgreSQL database they are kept in");
    added->add_flag("--json", kept.json, "Report as JSON");
    added->callback([&code, &kept, command] { code = command(kept); });
    return added;
  };
  add_practical("list", "What is kept", practical_list);
  auto* export_app =
      add_practical("export", "All of one practical, as a file or as tables", practical_export);
  export_app->add_option("id", kept.id, "The practical's id, as in the list")->required();
  export_app->add_option("-o", kept.out, "JSON file to write");
  export_app->add_option("--csv", kept.csv, "Directory to make: CSV tables with a dictionary");
  export_app->add_flag("--force", kept.force, "Replace an existing file");
  auto* import_app = add_practical("import", "Add a practical that was exported", practical_import);
  import_app->add_option("file", kept.file, "JSON file that `export -o` wrote")->required();
  auto* delete_app =
      add_practical("delete", "Remove a practical or a sitting for good", practical_delete);
  delete_app->add_option("id", kept.id, "The practical's id, as in the list")->required();
  delete_app->add_option("--sitting", kept.sitting, "One sitting of it, by its id, alone");
  delete_app->add_flag("--yes", kept.yes, "Do it; without this it says what would go");
  auto* backup_app = add_practical("backup", "A copy of all practicals", practical_backup);
  backup_app->add_option("-o", kept.out, "File to write [DIR/backups/backup-TIME.db]");
  backup_app->add_flag("--force", kept.force, "Replace an existing file");
  auto* restore_app =
      add_practical("restore", "Put a backup in place of all practicals", practical_restore);
  restore_app->add_option("file", kept.file, "File that `backup` wrote")->required();
  auto* log_app = add_practical("log", "What was done to the data", practical_log);
  log_app->add_flag("--verify", kept.verify, "Check that no row was changed or removed");
  log_app->add_option("--head", kept.head, "With --verify: a head hash noted earlier");

  ViewOptions view;
  auto* view_app =
      app.add_subcommand("view", "A picture as another observer gets it, with its error");
  view_app->add_option("in", view.in, "Pictures, directories or patterns")->required();
  view_app
      ->add_option("-o", view.out,
                   "Picture to write (.png, .jpg, .tif, .webp), or an existing directory")
      ->required();
  view_app->add_option("--as", view.observer, "Observer, such as deutan:0 or protan:6,age=45")
      ->required();
  view_app->add_option("--display", view.display, "Display the picture is for")
      ->capture_default_str();
  view_app->add_option("--method", view.method,
                       "plane, half-planes, line, substitution, grey, published-2009");
  view_app->add_flag("--exact", view.exact,
                     "Compress the original a little so that the match is exact; writes both");
  view_app->add_flag("--all-pages", view.all_pages, "Of a TIFF: every page");
  view_app->add_flag("--trusted", view.trusted,
                     "Decode without a locked-up child: for pictures whose maker you trust");
  view_app->add_flag("--force", view.force, "Replace existing files");
  view_app->add_flag("--json", view.json, "Report as JSON");
  view_app->callback([&] { code = view_command(view); });

  AuditOptions audit;
  auto* audit_app = app.add_subcommand("audit", "The error of a view, however it was made");
  audit_app->add_option("original", audit.original, "The original picture");
  audit_app->add_option("view", audit.view, "The view of it");
  audit_app->add_option("--as", audit.observer, "Observer the view is for, such as deutan:0")
      ->required();
  audit_app->add_option("--map", audit.map, "PNG to write: where the view errs");
  audit_app->add_option("--method", audit.method,
                        "Audit a method over a grid of colours; any wrong name lists them");
  audit_app->add_option("--grid", audit.grid, "Codes a channel of that grid")
      ->check(whole_number(2, 64))
      ->capture_default_str();
  audit_app->add_flag("--trusted", audit.trusted, "Decode without a locked-up child");
  audit_app->add_flag("--force", audit.force, "Replace an existing map");
  audit_app->add_option("--display", audit.display, "Display of both")->capture_default_str();
  audit_app->add_option("--fail-above", audit.fail_above, "Exit 1 when the mean error is larger")
      ->check(finite());
  audit_app->add_flag("--json", audit.json, "Result as JSON");
  audit_app->callback([&] { code = audit_command(audit); });

  auto* observer = app.add_subcommand("observer", "Modelled eyes");
  observer->require_subcommand(1);
  ObserverOptions eye;
  const auto add_observer_options = [&](CLI::App* command) {
    command
        ->add_option(
            "--kind", eye.kind,
            "normal, protan, deutan, tritan, ... or any observer, such as protan:6,pupil=7")
        ->required();
    command
        ->add_option("--separation", eye.separation_nm,
                     "Residual separation, nm: 28 normal, 0 dichromat")
        ->check(finite());
    command->add_option("--age", eye.age, "Years [32]")->check(finite());
    command->add_option("--field", eye.field, "Degrees [2]")->check(finite());
    command->add_option("--density-l", eye.density_l, "Peak optical density of L")->check(finite());
    command->add_option("--density-m", eye.density_m, "Peak optical density of M")->check(finite());
    command->add_option("--density-s", eye.density_s, "Peak optical density of S")->check(finite());
    command->add_option("--display", eye.display, "Display: a name or a file")
        ->capture_default_str();
    command->add_option("--plot", eye.plot, "Write a figure, SVG");
    command->add_option("--individuals", eye.individuals, "Individuals to draw in the figure [0]")
        ->check(whole_number(0, 200));
    command->add_flag("--force", eye.force, "Replace an existing figure");
    command->add_flag("--json", eye.json, "Result as JSON");
  };
  auto* table_app = observer->add_subcommand("table", "Cone fundamentals as CSV: nm,L,M,S");
  add_observer_options(table_app);
  table_app->callback([&] { code = observer_table(eye); });
  auto* describe_app = observer->add_subcommand(
      "describe", "Cones on a display, confusion lines, neutral points, Rayleigh match");
  add_observer_options(describe_app);
  describe_app->callback([&] { code = observer_describe(eye); });

  auto* display = app.add_subcommand("display", "Displays plates can be made for");
  display->require_subcommand(1);
  bool display_json = false;
  auto* list_app = display->add_subcommand("list", "All built-in displays");
  list_app->add_flag("--json", display_json, "Result as JSON");
  list_app->callback([&] { code = display_list(display_json); });
  DisplayDescribeOptions screen;
  auto* screen_app =
      display->add_subcommand("describe", "A display's light, curves, cone shares and tolerance");
  screen_app
      ->add_option("display", screen.display,
                   "A name, or a file: .icc, .edid, .csv, .sp, .ti3, .toml; then ,lux=200 ...")
      ->required();
  screen_app->add_option("--plot", screen.plot, "Write a figure, SVG");
  screen_app->add_flag("--force", screen.force, "Replace an existing figure");
  screen_app->add_flag("--json", screen.json, "Result as JSON");
  screen_app->callback([&] { code = display_describe(screen); });

  std::optional<std::string> source_name;
  bool sources_json = false;
  auto* sources_app = app.add_subcommand("sources", "Where the numbers come from");
  sources_app->add_option("name", source_name, "A table's name [all]");
  sources_app->add_flag("--json", sources_json, "Result as JSON");
  sources_app->callback([&] { code = sources_command(source_name, sources_json); });

  constexpr int usage = 2;
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    if (const auto unknown = unknown_command(app, argc, argv); unknown && error.get_exit_code())
      return failed({Error::Kind::usage, "no command named '" + unknown->words + "'", "command",
                     unknown->words,
                     "use " + unknown->known + "; run with --help for more information"});
    std::ostringstream out, err;
    code = app.exit(error, out, err) == 0 ? 0 : usage;
    print(out.str());
    std::fputs(err.str().c_str(), stderr);
  }
  return code;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    const int code = run(argc, argv);
    const auto taken = written();
    const bool was_done = code == 0 || code == 1;
    return taken || !was_done ? code : failed(taken.error());
  } catch (const std::exception& error) {
    std::fprintf(stderr, "copunctal: a mistake inside the program: %s\n", error.what());
    return 4;
  }
}
