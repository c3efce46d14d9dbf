#include <cstdio>

int main() {
  std::puts("riserkeep " RISERKEEP_VERSION);
  return 0;
}
