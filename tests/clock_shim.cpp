// A clock that is wrong: preloaded, it adds CLOCK_OFFSET_S seconds to the time of day that a program is told.
#include <sys/syscall.h>
#include <unistd.h>

#include <cstdlib>
#include <ctime>

extern "C" int clock_gettime(clockid_t clock, timespec* time) {
  const auto told = static_cast<int>(syscall(SYS_clock_gettime, clock, time));
  const char* offset = std::getenv("CLOCK_OFFSET_S");
  if (told == 0 && clock == CLOCK_REALTIME && offset != nullptr) time->tv_sec += std::atoll(offset);
  return told;
}
