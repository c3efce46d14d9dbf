"""The archive of the core must not refer to a clock, file, socket, environment, thread or random source."""
import re
import subprocess
import sys

FORBIDDEN = re.compile(r"\b(std::chrono::_V2::\w+::now|clock_gettime|gettimeofday|time@|getenv|fopen|open64|std::basic_[io]?f"
                       r"stream|socket|connect|pthread_create|std::thread|std::random_device|rand|printf|puts|std::cout|"
                       r"std::cerr|write@|sleep)\b")

listing = subprocess.run(["nm", "-uC", sys.argv[1]], check=True, capture_output=True, text=True).stdout
assert listing.count(" U ") > 50, "the archive looks empty"
complaints = [line.strip() for line in listing.splitlines() if FORBIDDEN.search(line)]
print("\n".join(complaints) or "symbols: clean")
sys.exit(bool(complaints))
