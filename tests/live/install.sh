#!/usr/bin/env bash
# cmake --install puts binary, unit, examples and docs in place; the unit is valid and hardened.
#   install.sh BUILD_DIR
set -euo pipefail
prefix=$(mktemp -d)
trap 'rm -rf "$prefix"' EXIT
DESTDIR=$prefix cmake --install "$1" --prefix /usr >/dev/null
for file in bin/riserkeep lib/systemd/system/riserkeep.service lib/sysusers.d/riserkeep.conf \
            share/doc/riserkeep/README.md share/doc/riserkeep/safety.md share/doc/riserkeep/examples/demo.yaml; do
  [ -e "$prefix/usr/$file" ] || { echo "not installed: $file"; exit 1; }
done
unit=$prefix/usr/lib/systemd/system/riserkeep.service
grep -q '^ExecStart=/usr/bin/riserkeep run' "$unit"
sed -E "s#^(ExecStart|ExecReload)=/usr/bin#\1=$prefix/usr/bin#" "$unit" > "$prefix/riserkeep.service"
systemd-analyze verify "$prefix/riserkeep.service"
systemd-analyze security --offline=true --threshold=20 "$unit"
grep -q "^ExecReload=/usr/bin/riserkeep reload" "$unit"
"$prefix/usr/bin/riserkeep" check "$prefix/usr/share/doc/riserkeep/examples/demo.yaml" >/dev/null
echo installed
