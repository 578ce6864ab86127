#!/usr/bin/env bash
# Opens the demo's report.html in headless Chromium and tries it as its readers would: script errors, requests to the
# outside, sorting, filtering, maps by keyboard, the accessibility rules of axe-core, phone width and paper. Prints letters.
# Called by tests/run.sh after the program is built. axe-core (MPL-2.0) is fetched once and kept with the build, not here.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
. demo/needs.sh
. tests/demo.sh

AXE=axe-core@4.14.1
TARGET=${CARGO_TARGET_DIR:-target}
CACHE=$TARGET/test-cache
WORK=$(mktemp -d)
trap 'rm -rf "$WORK"' EXIT

fetch_axe() {
  [ -s "$CACHE/$AXE/axe.min.js" ] && return 0
  say "Fetching $AXE."
  mkdir -p "$CACHE/$AXE"
  (cd "$WORK" && npm pack --silent "$AXE" >/dev/null && tar xzf axe-core-*.tgz package/axe.min.js)
  mv "$WORK/package/axe.min.js" "$CACHE/$AXE/axe.min.js"
}

# The first word names the visit: each has its own profile, so that they can go on at the same time.
browser() {
  timeout 120 chromium --headless --no-sandbox --disable-gpu --disable-extensions --no-first-run \
    --host-resolver-rules="MAP * ~NOTFOUND" --user-data-dir="$WORK/profile-$1" "${@:2}" 2>"$WORK/$1.log" && return 0
  say "Chromium failed or took more than two minutes."
  return 1
}

# A copy of the page with the checks: name, what to set before, script files to add.
copy_with() {
  local name=$1 before=$2 file
  shift 2
  {
    printf '<!DOCTYPE html>\n<script>window.wrong=[];%s\n' "$before"
    printf 'addEventListener("error",function(e){wrong.push("script error: "+e.message)});'
    printf 'addEventListener("securitypolicyviolation",function(e){wrong.push("asked for "+e.blockedURI)});'
    printf 'window.alert=function(){wrong.push("markup of the data ran")};</script>\n'
    cat "$WORK/page.html"
    for file in "$@"; do printf '<script>'; cat "$file"; printf '</script>\n'; done
  } >"$WORK/$name.html"
}

# Opens a copy at a width; fails where it reports anything wrong or nothing at all.
expect_sound() {
  local name=$1 width=$2
  browser "$name" --window-size="$width,900" --virtual-time-budget=60000 --dump-dom "file://$WORK/$name.html" >"$WORK/$name.dom" || { tail -n 1 "$WORK/$name.dom"; return 1; }
  sed -n '/<pre id="checked">/,/<\/pre>/p' "$WORK/$name.dom" >"$WORK/$name.found"
  grep -q '; wrong 0$' "$WORK/$name.found" && return 0
  say "report.html, $name:"
  cat "$WORK/$name.found"
  return 1
}

# A letter on a paper size, as PDF; fails where it takes more than one sheet, both sides.
expect_one_sheet() {
  local size=$1 letter=$2 name=$3-$1 sides
  sed "s/@page{/@page{size:$size;/" "$letter" >"$WORK/$name.html"
  browser "$name" --print-to-pdf="$WORK/$name.pdf" --no-pdf-header-footer "file://$WORK/$name.html" >/dev/null
  sides=$(grep -ac '/Type /Page$' "$WORK/$name.pdf")
  [ "$sides" -ge 1 ] && [ "$sides" -le 2 ] && return 0
  say "$(basename "$letter") prints on $sides pages of $size."
  return 1
}

# The first letter with twelve results, one of them above a limit that guards health; or, asked for "longest", the one with the most results.
letter_with() {
  local file
  if [ "$1" = longest ]; then
    grep -c 'class="day"' "$DEMO_OUT"/internal/letters/*.html | sort -t: -k2 -n | tail -n 1 | cut -d: -f1
    return 0
  fi
  for file in "$DEMO_OUT"/internal/letters/*.html; do
    [ "$(grep -c 'class="above"' "$file")" = 1 ] && [ "$(grep -c 'class="day"' "$file")" = 12 ] && { echo "$file"; return 0; }
  done
  return 1
}

install_needs chromium:chromium npm:npm
fetch_axe
make_demo_out "$WORK"
REPORT=$DEMO_OUT/public/report.html
[ "$(stat -c %s "$REPORT")" -lt 1500000 ]
cp "$REPORT" "$WORK/page.html"
copy_with desk "" "$CACHE/$AXE/axe.min.js" tests/browser/check.js
# A window cannot be as narrow as a phone; a frame can.
printf 'if(parent!==window){addEventListener("load",function(){setTimeout(function(){parent.postMessage(document.getElementById("checked").textContent,"*")},2000)})}' >"$WORK/tell.js"
copy_with phone "" tests/browser/check.js "$WORK/tell.js"
printf '<!DOCTYPE html><iframe src="phone.html" style="width:390px;height:900px;border:0"></iframe>' >"$WORK/narrow.html"
printf '<script>addEventListener("message",function(e){var p=document.createElement("pre");p.id="checked";p.textContent=e.data;document.body.appendChild(p)})</script>' >>"$WORK/narrow.html"
# Paper: the print rules put on the screen, at the width that margins leave of A4 (182 mm).
sed -i 's/@media print/@media all/; s/@media screen/@media not all/' "$WORK/page.html"
copy_with paper "window.paper=true;" tests/browser/check.js

visits=()
expect_sound desk 1280 & visits+=($!)
{ expect_sound narrow 1280 && grep -q 'width 3[0-9][0-9]; ' "$WORK/narrow.found"; } & visits+=($!)
expect_sound paper 688 & visits+=($!)
browser print --print-to-pdf="$WORK/report.pdf" --no-pdf-header-footer "file://$REPORT" >/dev/null & visits+=($!)
ordinary=$(letter_with twelve)
longest=$(letter_with longest)
for size in A4 letter; do
  expect_one_sheet "$size" "$ordinary" ordinary & visits+=($!)
  expect_one_sheet "$size" "$longest" longest & visits+=($!)
done
for visit in "${visits[@]}"; do wait "$visit"; done
head -c 5 "$WORK/report.pdf" | grep -q '%PDF-'
# A paper reader must be able to carry it.
pages=$(grep -ac '/Type /Page$' "$WORK/report.pdf")
[ "$pages" -ge 20 ] && [ "$pages" -lt 95 ] || { say "report.html prints on $pages pages."; exit 1; }
say "report.html is sound on a desk, on a phone and on paper ($pages pages); letters print on one sheet."
