// For tests: a PostgreSQL server of our own in a temporary directory, gone when the test is over.
//
// Its binaries are Debian's. It does not run as root: then it is started as the user postgres. It
// listens on a socket in that directory alone, and waits for the disk like any other.
#pragma once

#include <fcntl.h>
#include <grp.h>
#include <pwd.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <atomic>
#include <chrono>
#include <csignal>
#include <filesystem>
#include <fstream>
#include <optional>
#include <sstream>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include "copunctal/store/scratch_directory.h"

namespace copunctal {

class PostgresServer {
 public:
  /// Why there can be none here; nothing when there can.
  static std::optional<std::string> missing() {
    if (!std::filesystem::exists(binary("initdb")))
      return "PostgreSQL 15's server is not installed (package postgresql-15)";
    if (geteuid() == 0 && getpwnam("postgres") == nullptr)
      return "there is no user postgres, and PostgreSQL does not run as root";
    return std::nullopt;
  }

  /// `settings`: more lines of postgresql.conf.
  explicit PostgresServer(
      const std::string& settings = "",
      const std::filesystem::path& within = std::filesystem::temp_directory_path())
      : scratch_(within) {
    if (geteuid() == 0) {
      const passwd* owner = getpwnam("postgres");
      if (owner == nullptr || chown(home().c_str(), owner->pw_uid, owner->pw_gid) != 0)
        throw std::runtime_error("no user postgres");
    }
    must(run({binary("initdb"), "-D", data(), "-A", "trust", "-E", "UTF8", "--locale=C",
              "--no-sync", "--data-checksums", "-U", "copunctal"}),
         "initdb");
    std::ofstream(data() + "/postgresql.conf", std::ios::app)
        << "listen_addresses = ''\nunix_socket_directories = '" << home()
        << "'\nfsync = on\nsynchronous_commit = on\nfull_page_writes = on\nmax_connections = 60\n"
           "shared_buffers = '16MB'\nautovacuum = off\n"
        << settings << "\n";
    start();
  }
  PostgresServer(const PostgresServer&) = delete;
  PostgresServer& operator=(const PostgresServer&) = delete;
  ~PostgresServer() { stop(End::immediate); }

  /// The address of a database in it.
  std::string address(const std::string& database = "postgres") const {
    return "postgresql://copunctal@/" + database + "?host=" + home();
  }
  /// Makes a database and answers with its address.
  std::string new_database() {
    const std::string name = "d" + std::to_string(++databases_);
    must(sql("CREATE DATABASE " + name + " STRATEGY FILE_COPY"), "CREATE DATABASE");
    return address(name);
  }
  /// Runs it with PostgreSQL's own client; true when it went well.
  bool sql(const std::string& script, const std::string& database = "postgres") const {
    return run({binary("psql"), "-X", "-q", "-v", "ON_ERROR_STOP=1", "-h", home(), "-U",
                "copunctal", "-d", database, "-c", script});
  }

  /// The rows that a query gives, read by PostgreSQL's own client.
  std::vector<std::vector<std::string>> rows(const std::string& query,
                                             const std::string& database) const {
    const std::string output = home() + "/rows";
    must(run({binary("psql"), "-X", "-q", "-A", "-t", "-F", "|", "-v", "ON_ERROR_STOP=1", "-h",
              home(), "-U", "copunctal", "-d", database, "-o", output, "-c", query}),
         query);
    std::vector<std::vector<std::string>> all;
    std::ifstream file(output);
    for (std::string line; std::getline(file, line);) {
      auto& row = all.emplace_back();
      std::istringstream cells(line);
      for (std::string cell; std::getline(cells, cell, '|');) row.push_back(cell);
    }
    return all;
  }
  /// Whether PostgreSQL's own checker finds every table and index sound.
  bool is_sound(const std::string& database) const {
    return run({binary("pg_amcheck"), "--install-missing", "--heapallindexed", "--no-password",
                "-h", home(), "-U", "copunctal", "-d", database});
  }

  void start() {
    server_ = begun({binary("postgres"), "-D", data()}, home() + "/log");
    for (int i = 0; i < 6000; ++i) {
      if (status() == "ready") return;
      if (waitpid(server_, nullptr, WNOHANG) != 0) break;
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
    server_ = -1;
    throw std::runtime_error("PostgreSQL does not start:\n" + log());
  }
  enum class End { fast, immediate, kill };
  /// In order, dropping everything as it is, or by SIGKILL; waits until it is gone.
  void stop(End end) {
    if (server_ <= 0) return;
    ::kill(server_, end == End::fast ? SIGINT : end == End::immediate ? SIGQUIT : SIGKILL);
    waitpid(server_, nullptr, 0);
    server_ = -1;
    // The others notice that the first is gone; until then none can be started.
    for (int i = 0; i < 1000 && has_processes(); ++i)
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }

  std::string log() const {
    std::ostringstream text;
    text << std::ifstream(home() + "/log").rdbuf();
    return text.str();
  }

 private:
  static std::string binary(const std::string& name) {
    return "/usr/lib/postgresql/15/bin/" + name;
  }
  std::string home() const { return scratch_.path().string(); }
  std::string data() const { return home() + "/data"; }

  // "ready" stands in the eighth line of this file once connections are taken; in the first, whose
  // file it is: one that was killed leaves its own.
  std::string status() const {
    std::ifstream file(data() + "/postmaster.pid");
    pid_t owner = -1;
    file >> owner;
    std::string line;
    for (int i = 0; i < 8; ++i) std::getline(file, line);
    return file && owner == server_ ? line.substr(0, line.find(' ')) : "";
  }
  // Every one of them has the data directory as its own.
  bool has_processes() const {
    std::error_code ignored;
    for (const auto& entry : std::filesystem::directory_iterator("/proc", ignored)) {
      const auto at = std::filesystem::read_symlink(entry.path() / "cwd", ignored);
      if (!ignored && at == data()) return true;
      ignored.clear();
    }
    return false;
  }

  static void must(bool is_so, const std::string& what) {
    if (!is_so) throw std::runtime_error(what + " failed");
  }
  // As the user postgres where we are root; it ends with us.
  static pid_t begun(std::vector<std::string> words, const std::string& output) {
    std::vector<char*> arguments;
    for (std::string& word : words) arguments.push_back(word.data());
    arguments.push_back(nullptr);
    const passwd* owner = geteuid() == 0 ? getpwnam("postgres") : nullptr;
    const pid_t child = fork();
    if (child != 0) return child;
    if (owner != nullptr &&
        (setgroups(0, nullptr) != 0 || setgid(owner->pw_gid) != 0 || setuid(owner->pw_uid) != 0))
      _exit(126);
    prctl(PR_SET_PDEATHSIG, SIGQUIT);
    const int file = ::open(output.c_str(), O_WRONLY | O_CREAT | O_APPEND, S_IRUSR | S_IWUSR);
    if (file < 0 || dup2(file, STDOUT_FILENO) < 0 || dup2(file, STDERR_FILENO) < 0 ||
        chdir("/") != 0)
      _exit(126);
    execv(arguments[0], arguments.data());
    _exit(127);
  }
  bool run(const std::vector<std::string>& words) const {
    const pid_t child = begun(words, home() + "/log");
    int status = 0;
    return child > 0 && waitpid(child, &status, 0) == child && WIFEXITED(status) &&
           WEXITSTATUS(status) == 0;
  }

  ScratchDirectory scratch_;
  pid_t server_ = -1;
  std::atomic<int> databases_ = 0;
};

}  // namespace copunctal
