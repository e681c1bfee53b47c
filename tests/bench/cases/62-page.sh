# SPDX-License-Identifier: MIT
# The page against a real nodoffd: what is tapped gets into the journal, and what it changes
# comes back to every phone as an event.
cat > car.yaml <<'YAML'
networks:
  body: { interfaces: [can0], bitrate: 500000, sleeps within: 1 h, quiet time: 2 s }
fuses:
  F12: { rating: 10 A, box: cabin }
modules:
  roof unit: { networks: [body], ids: [2A0], fuses: [F12] }
YAML
ip link set lo up
sender_up can1
start_daemon --vehicle car.yaml
nodoff page --on 127.0.0.1:8474 > link &
background+=("$!")
wait_for 15 grep -q '^http' link
url=$(grep '^http' link)
get() { curl -sS --max-time 60 "$url$1"; }
tap() { curl -sS --max-time 60 -H 'Content-Type: application/json' -d "$1" "${url}tap"; }
phone_has() { grep -qE -- "$2" "$1"; }
curl -sSN "${url}events" > one &
background+=("$!")
curl -sSN "${url}events" > two &
background+=("$!")
cangen can1 -g 20 -I 2A0 -L 8 &
sender=$!
background+=("$sender")
wait_for 15 phone_has one '"name": ?"body".*"state": ?"awake"'
check "a phone sees that the network is awake" phone_has one '"state": ?"awake"'
check "the map is nodoffd's" contains "$(get map)" '"name": ?"F12"'
now=$(curl -sS -X POST "${url}clock" | grep -o '[0-9]*')
check "it tells the laptop's clock" test $(( $(date +%s) - now / 1000 )) -le 2
pulled=$((now - 1000))
check "a tap is taken" equal "$(tap '{"id":"a-1","kind":"isolated","subject":"F12","time_ms":'$pulled'}')" '{"ok":true}'
check "it is on the disk, at the moment of the finger" grep -qF \
	"($((pulled / 1000)).$(printf %03d $((pulled % 1000)))000) isolated F12" sessions/*/journal.log
wait_for 15 phone_has two '"out": ?\["F12"\]'
check "the other phone sees it" phone_has two '"out": ?\["F12"\]'
tap '{"id":"a-1","kind":"isolated","subject":"F12","time_ms":'$pulled'}' > /dev/null
check "sent twice, it is one mark" equal "$(grep -c ' isolated F12$' sessions/*/journal.log)" 1
check "a mark without its subject is refused, with what is missing" contains \
	"$(tap '{"id":"a-2","kind":"isolated","subject":"","time_ms":'$pulled'}')" 'error'
tap '{"id":"a-3","kind":"undo","subject":"","time_ms":'$now'}' > /dev/null
check "taken back, that is a mark, too" grep -qE '^\([0-9.]+\) undone \([0-9.]+\) isolated F12$' sessions/*/journal.log
is_back() { tail -n 2 two | grep -qE '"out": ?\[\]'; }
wait_for 15 is_back
check "and the phones follow" is_back
check "without the key there is nothing" equal \
	"$(curl -sS -o /dev/null -w '%{http_code}' http://127.0.0.1:8474/wrong/events)" 403
stop_daemon
wait_for 15 phone_has one '^event: gone'
check "nodoffd's end is told" phone_has one '^event: gone'
check "a tap waits on the phone meanwhile" equal "$(curl -sS -o /dev/null -w '%{http_code}' \
	-H 'Content-Type: application/json' -d '{"id":"b-1","kind":"note","subject":"waited","time_ms":'$now'}' \
	"${url}tap")" 503
start_daemon --vehicle car.yaml
views() { grep -c '^event: view' one; }
seen=$(views)
comes_again() { test "$(views)" -gt "$seen"; }
wait_for 15 comes_again
check "the same page goes on with the next nodoffd" comes_again
now=$(curl -sS -X POST "${url}clock" | grep -o '[0-9]*')
check "and takes what waited" equal \
	"$(tap '{"id":"b-1","kind":"note","subject":"waited","time_ms":'$now'}')" '{"ok":true}'
check "which is in the new journal" grep -q ' note waited$' sessions/*/journal.log
stop_daemon
finish
