#include "copunctal/image/sandbox.h"

#include <cerrno>
#include <csignal>
#include <cstring>

#include <fcntl.h>
#include <linux/landlock.h>
#include <sched.h>
#include <seccomp.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <unistd.h>

namespace copunctal {
namespace {

tl::unexpected<Error> cannot(const std::string& what) {
  return fail(Error::Kind::unsupported,
              "the program that reads pictures cannot lock itself up: " + what + ": " +
                  std::strerror(errno),
              "sandbox", "", "update the kernel, or read pictures you trust with --trusted");
}

void limit(__rlimit_resource what, rlim_t most) {
  const rlimit both{most, most};
  setrlimit(what, &both);
}

constexpr bool is_sanitized() {
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
  return true;
#else
  return false;
#endif
}

// Landlock by system call: glibc 2.36 has no wrappers. A kernel without it leaves opening files to
// the seccomp filter, and to the proof.
bool restrict_paths(const std::vector<std::string>& readable) {
  const long version =
      syscall(SYS_landlock_create_ruleset, nullptr, 0, LANDLOCK_CREATE_RULESET_VERSION);
  if (version < 1) return false;
  landlock_ruleset_attr handled{};
  handled.handled_access_fs =
      LANDLOCK_ACCESS_FS_EXECUTE | LANDLOCK_ACCESS_FS_WRITE_FILE | LANDLOCK_ACCESS_FS_READ_FILE |
      LANDLOCK_ACCESS_FS_READ_DIR | LANDLOCK_ACCESS_FS_REMOVE_DIR | LANDLOCK_ACCESS_FS_REMOVE_FILE |
      LANDLOCK_ACCESS_FS_MAKE_CHAR | LANDLOCK_ACCESS_FS_MAKE_DIR | LANDLOCK_ACCESS_FS_MAKE_REG |
      LANDLOCK_ACCESS_FS_MAKE_SOCK | LANDLOCK_ACCESS_FS_MAKE_FIFO | LANDLOCK_ACCESS_FS_MAKE_BLOCK |
      LANDLOCK_ACCESS_FS_MAKE_SYM;
  const long rules = syscall(SYS_landlock_create_ruleset, &handled, sizeof(handled), 0);
  if (rules < 0) return false;
  for (const std::string& path : readable) {
    landlock_path_beneath_attr beneath{};
    beneath.parent_fd = open(path.c_str(), O_PATH | O_CLOEXEC);
    if (beneath.parent_fd < 0) continue;
    beneath.allowed_access = LANDLOCK_ACCESS_FS_READ_FILE | LANDLOCK_ACCESS_FS_READ_DIR;
    syscall(SYS_landlock_add_rule, rules, LANDLOCK_RULE_PATH_BENEATH, &beneath, 0);
    close(beneath.parent_fd);
  }
  const bool done = syscall(SYS_landlock_restrict_self, rules, 0) == 0;
  close(static_cast<int>(rules));
  return done;
}

bool filter_calls(bool may_open) {
  // What is not named fails, and does not kill: the proof can see it, and libraries can say it.
  scmp_filter_ctx filter = seccomp_init(SCMP_ACT_ERRNO(EPERM));
  if (filter == nullptr) return false;
  bool good = true;
  for (const int call : {SCMP_SYS(read),
                         SCMP_SYS(pread64),
                         SCMP_SYS(readv),
                         SCMP_SYS(write),
                         SCMP_SYS(writev),
                         SCMP_SYS(close),
                         SCMP_SYS(dup),
                         SCMP_SYS(lseek),
                         SCMP_SYS(fstat),
                         SCMP_SYS(newfstatat),
                         SCMP_SYS(mmap),
                         SCMP_SYS(munmap),
                         SCMP_SYS(mremap),
                         SCMP_SYS(mprotect),
                         SCMP_SYS(madvise),
                         SCMP_SYS(brk),
                         SCMP_SYS(futex),
                         SCMP_SYS(exit),
                         SCMP_SYS(exit_group),
                         SCMP_SYS(rt_sigreturn),
                         SCMP_SYS(rt_sigaction),
                         SCMP_SYS(rt_sigprocmask),
                         SCMP_SYS(getrandom),
                         SCMP_SYS(clock_gettime),
                         SCMP_SYS(gettimeofday),
                         SCMP_SYS(getpid),
                         SCMP_SYS(gettid),
                         SCMP_SYS(sched_yield),
                         SCMP_SYS(sched_getaffinity),
                         SCMP_SYS(restart_syscall)})
    good = good && seccomp_rule_add(filter, SCMP_ACT_ALLOW, call, 0) == 0;
  // By a pipe the sanitizer of undefined behaviour asks whether memory may be read.
  if (is_sanitized())
    for (const int call : {SCMP_SYS(pipe), SCMP_SYS(pipe2)})
      good = good && seccomp_rule_add(filter, SCMP_ACT_ALLOW, call, 0) == 0;
  if (may_open) {
    // Reading only; Landlock says which.
    for (const int call : {SCMP_SYS(access), SCMP_SYS(faccessat2), SCMP_SYS(stat), SCMP_SYS(statx),
                           SCMP_SYS(statfs), SCMP_SYS(fstatfs), SCMP_SYS(getdents64),
                           SCMP_SYS(readlink), SCMP_SYS(fcntl), SCMP_SYS(getuid), SCMP_SYS(geteuid),
                           SCMP_SYS(getgid), SCMP_SYS(getegid), SCMP_SYS(getcwd), SCMP_SYS(uname),
                           SCMP_SYS(fadvise64), SCMP_SYS(prlimit64), SCMP_SYS(sysinfo)})
      good = good && seccomp_rule_add(filter, SCMP_ACT_ALLOW, call, 0) == 0;
    // Drawing wants threads: a clone that is one, and never by clone3, whose flags cannot be seen.
    for (const int call : {SCMP_SYS(set_robust_list), SCMP_SYS(rseq), SCMP_SYS(sigaltstack),
                           SCMP_SYS(prctl), SCMP_SYS(sched_setaffinity)})
      good = good && seccomp_rule_add(filter, SCMP_ACT_ALLOW, call, 0) == 0;
    good = good && seccomp_rule_add(filter, SCMP_ACT_ERRNO(ENOSYS), SCMP_SYS(clone3), 0) == 0 &&
           seccomp_rule_add(filter, SCMP_ACT_ALLOW, SCMP_SYS(clone), 1,
                            SCMP_A0(SCMP_CMP_MASKED_EQ, CLONE_THREAD, CLONE_THREAD)) == 0;
    good = good && seccomp_rule_add(filter, SCMP_ACT_ALLOW, SCMP_SYS(openat), 1,
                                    SCMP_A2(SCMP_CMP_MASKED_EQ, O_ACCMODE, O_RDONLY)) == 0;
  }
  good = good && seccomp_load(filter) == 0;
  seccomp_release(filter);
  return good;
}

}  // namespace

Result<Proof> lock_up(const SandboxRules& rules) {
  limit(RLIMIT_CORE, 0);
  limit(RLIMIT_NOFILE, rules.readable.empty() ? 16 : 64);
  limit(RLIMIT_FSIZE, std::uint64_t{64} << 20);
  limit(RLIMIT_CPU, rules.cpu_seconds);
  // A sanitizer reserves far more than it uses.
  if (!is_sanitized()) limit(RLIMIT_AS, rules.most_memory);
  if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0) return cannot("no new privileges");
  const bool landlocked = restrict_paths(rules.readable);
  if (!rules.readable.empty() && !landlocked) return cannot("Landlock is missing");
  if (!filter_calls(!rules.readable.empty())) return cannot("seccomp");

  Proof proof;
  const int file = open("/etc/passwd", O_RDONLY | O_CLOEXEC);
  proof.no_open = file < 0;
  const int talker = socket(AF_UNIX, SOCK_STREAM, 0);
  proof.no_socket = talker < 0;
  const long child = syscall(SYS_clone, SIGCHLD, nullptr, nullptr, nullptr, nullptr);
  if (child == 0) _exit(0);
  proof.no_fork = child < 0;
  if (!proof.holds()) {
    errno = EPERM;
    return cannot("a file, a socket or a child could still be opened");
  }
  return proof;
}

}  // namespace copunctal
