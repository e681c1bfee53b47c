# SPDX-License-Identifier: MIT
# From plug-in to recording in two commands, at any bitrate and without root once nodoffd runs as
# the service does: the adapters are taken when the recording begins, and left as they were found.
cat > car.yaml <<'YAML'
networks:
  body: { interfaces: [can0], bitrate: 125000, sleeps within: 1 h, quiet time: 2 s }
  comfort: { interfaces: [can2], sleeps within: 1 h, quiet time: 2 s }
YAML
sender_up can1 125000
sender_up can3
mkdir -p home
chown nodoff:nodoff home
nodoffd --no-record --user nodoff --group nodoff --socket "$PWD/home/sock" --sessions "$PWD/home" \
	> daemon.log 2>&1 &
daemon=$!
background+=("$daemon")
export NODOFF_SOCKET=$PWD/home/sock
as_technician() { setpriv --reuid 901 --regid 901 --groups 900 --inh-caps=-all --bounding-set=-all "$@"; }
wait_for 15 nodoff record list || sed 's/^/#   /' daemon.log
links() { ip -d link show "$1" | tr '\n' ' '; }
check "before a recording no adapter is touched" equal "$(ip -br link show can0 | awk '{print $2}')" DOWN
check "and nothing is listened to" equal "$(nodoff record status)" "not recording"
cangen can1 -g 20 -I 2A0 -L 8 &
background+=("$!")
cangen can3 -g 20 -I 3B0 -L 8 &
comfort=$!
background+=("$comfort")
as_technician nodoff record start --vehicle car.yaml estate > started 2> said || sed 's/^/#   /' said daemon.log
check "the map says which adapter and the bitrate" contains "$(cat started)" \
	'^can0: listening at 125000 bit/s$'
check "one that it does not say is found by listening" contains "$(cat started)" \
	'^can2: listening at 500000 bit/s, found by listening$'
check "both are listen-only" equal "$(links can0 | grep -c '<LISTEN-ONLY.*bitrate 125000')$(
	links can2 | grep -c '<LISTEN-ONLY.*bitrate 500000')" 11
path=$(tail -1 started)
check "the map is in the session" same_file car.yaml "$path/vehicle.yaml"
wait_for 10 status_says 'can2: listening, [1-9][0-9]+ frames'
check "it records" status_says 'can2: listening, [1-9][0-9]+ frames'
check "the list says so" contains "$(nodoff record list)" '\(recording\) +20[0-9-]*-estate$'
as_technician nodoff record stop > stopped
check "the answer is one line, and then the path" equal "$(wc -l < stopped) $(tail -1 stopped)" "2 $path"
check "which says something" contains "$(head -1 stopped)" '^[A-Za-z].*\.$'
check "the adapters are as they were found" equal "$(links can0 | grep -c 'state DOWN')$(
	links can2 | grep -c 'state DOWN')" 11
check "the list says when, how long, how many frames and what was found" contains \
	"$(nodoff record list)" '^ +20[0-9-]+ [0-9:]+ +[0-9.]+ s +[1-9][0-9]+ cannot tell +20[0-9-]*-estate$'
nodoff session mark "$path" note later > /dev/null
check "and that marks were made since" contains "$(nodoff record list)" 'cannot tell, see '

# A network that is silent has no bitrate yet: it is said, and found when it speaks.
kill "$comfort"
nodoff record start --vehicle car.yaml > started
check "a silent network is said" contains "$(cat started)" \
	'^can2: looking for its bitrate: nothing was heard whole'
path=$(tail -1 started)
check "nobody listens to it meanwhile" grep -q ' not listening can2$' "$path/journal.log"
cangen can3 -g 20 -I 3B0 -L 8 &
background+=("$!")
wait_for 20 status_says 'can2: listening, [1-9]'
check "it is found as soon as it speaks" status_says 'can2: listening, [1-9]'
nodoff record stop > /dev/null
check "the time before is not listened" grep -qE ' gap can2 [0-9.]+ s$' "$path/journal.log"

# One that is up and listen-only is used as it is, and left so.
ip link set can2 type can bitrate 250000 listen-only on
ip link set can2 up
nodoff record start --vehicle car.yaml > started
check "who set it up said its bitrate" contains "$(cat started)" '^can2: listening at 250000 bit/s$'
nodoff record stop > /dev/null
check "it is left up" contains "$(links can2)" 'state UP.*<LISTEN-ONLY.*bitrate 250000'
ip link set can2 down

# A map that cannot be read is refused before anything is touched.
echo 'networks: { body: { bitrate: fast } }' > bad.yaml
nodoff record start --vehicle bad.yaml > /dev/null 2> said
check "a wrong map is refused" equal "$? $(links can0 | grep -c 'state DOWN')" "4 1"
check "with the place" contains "$(cat said)" 'bad.yaml:1:'
check "without a map all adapters are taken" contains "$(nodoff record start)" \
	'^can0: listening at 500000 bit/s, found'
kill -TERM $daemon
wait $daemon
check "ended in the middle, it leaves them, too" equal "$(links can0 | grep -c 'state DOWN')" 1
check "and the list has the answer" test "$(grep -l '^verdict: ' home/*/session.txt | wc -l)" = 4
finish
