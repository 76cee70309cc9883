#!/usr/bin/env python3
"""What the terminal answers as JSON is what tools/cli/schema says of it: every verb has a
schema, every recorded answer and those of the programs on a played garden conform to it,
and a document with a member left out, renamed or of another type does not."""
import copy
import json
import re
import subprocess

import support

try:
    import jsonschema
except ImportError:
    jsonschema = None

FOLDER = support.ROOT / 'tools/cli/schema'
# What rimeward alone answers, and pieces that are no verb's.
SUMMARY = 'summary'
SHARED = {'common', 'action', SUMMARY}
# Members that may be left out, as VERB: paths; * stands for any index or name.
MAY_LACK = {
    'notice': {'deadline', 'deadline_local', 'ends_at', 'closed_at', 'reminded_at', 'layers'},
    'sensors': {'facts.*'},
    'mute': {'place'},
    'calibrate': {'daemon_running', 'salt', 'check_since', 'check_until', 'said', 'true',
                  'readings', 'read_from', 'read_to', 'gain', 'offset', 'uncertainty',
                  'points', 'unit', 'too_far_off', 'replaces'},
    'rehearse': {'doubts.*.channel'},
}


def schemas():
    return {file.stem: json.loads(file.read_text()) for file in sorted(FOLDER.glob('*.json'))}


def verbs():
    table = (support.ROOT / 'tools/cli/verbs.def').read_text()
    return [name.replace('_', '-') for name in re.findall(r'^VERB\((\w+),', table, re.M)]


class Judge:
    """Holds documents against the schemas of the folder."""

    def __init__(self, all_schemas):
        self.schemas = all_schemas
        self.store = {(FOLDER / f'{name}.json').as_uri(): schema
                      for name, schema in all_schemas.items()}
        self.validators = {}

    def validator(self, name):
        if name not in self.validators:
            address = (FOLDER / f'{name}.json').as_uri()
            resolver = jsonschema.RefResolver(address, self.schemas[name], store=self.store)
            self.validators[name] = jsonschema.Draft202012Validator(
                self.schemas[name], resolver=resolver,
                format_checker=jsonschema.draft202012_format_checker)
        return self.validators[name]

    def holds(self, name, document):
        return self.validator(name).is_valid(document)

    def require(self, name, document, what):
        support.check(name in self.schemas, f'{what}: there is no schema of {name}')
        error = jsonschema.exceptions.best_match(self.validator(name).iter_errors(document))
        support.check(error is None, f'{what} is not as {name}.json has it: {error}')


def subschemas(schema, where):
    """The schema and all that it holds, each with where it stands."""
    yield where, schema
    for key in ('properties', '$defs'):
        for name, inner in schema.get(key, {}).items():
            yield from subschemas(inner, f'{where}/{name}')
    for key in ('anyOf', 'allOf', 'oneOf'):
        for i, inner in enumerate(schema.get(key, [])):
            yield from subschemas(inner, f'{where}/{key}{i}')
    if isinstance(schema.get('items'), dict):
        yield from subschemas(schema['items'], f'{where}/items')


def check_schema(name, schema):
    jsonschema.Draft202012Validator.check_schema(schema)
    support.equal(schema['$schema'], 'https://json-schema.org/draft/2020-12/schema', name)
    title = 'rimeward ' + name
    support.check(name in SHARED or schema['title'] == title, f'{name}: not titled {title}')
    for where, inner in subschemas(schema, name):
        for member, one in inner.get('properties', {}).items():
            told = 'description' in one or '$ref' in one
            support.check(told, f'{where}/{member}: no description')
        if inner.get('type') == 'object' and 'properties' in inner:
            support.equal(inner.get('additionalProperties'), False, f'{where}: closed')


def check_lists(common):
    """The words that the common schema lists are those of the program."""
    def words(name):
        return set(common['$defs'][name]['enum'])

    def found(file, pattern):
        return set(re.findall(pattern, (support.ROOT / file).read_text()))
    support.equal(words('kind'), found('daemon/notice/rules.def', r'(?m)^RULE\((\w+)')
                  | {'morning', 'sunday'}, 'kinds of notices')
    support.equal(words('reason'),
                  found('daemon/base/doubt.cc', r'DoubtTraits\{Doubt::\w+, "([^"]+)"'),
                  'reasons to doubt')
    support.equal(words('channel'),
                  found('sensors/channel.cc', r'ChannelTraits\{Channel::\w+, "([^"]+)"'),
                  'channels')


def case_answers():
    """(file name, verb, document) of every recorded answer in JSON."""
    for file in sorted((support.ROOT / 'tests/tools').glob('*.case')):
        head, _, rest = file.read_text().partition('\n--- ')
        command = re.search(r'^\$ rimeward ?(.*)$', head, re.M)
        if not command or '--json' not in command.group(1).split():
            continue
        words = [word for word in command.group(1).split() if not word.startswith('-')]
        verb = words[0] if words else SUMMARY
        parts = dict(part.partition('\n')[::2] for part in rest.split('\n--- '))
        text = parts.get('text', '')
        if text.strip():
            lines = verb == 'export' and not text.startswith('{\n')
            for document in text.splitlines() if lines else [text]:
                yield file.name, verb, json.loads(document)


def paths(document, path=()):
    """Every member of every object, the first entry standing for all of a list."""
    if isinstance(document, dict):
        for name, value in document.items():
            yield path + (name,)
            yield from paths(value, path + (name,))
    elif isinstance(document, list) and document:
        yield from paths(document[0], path + (0,))


def holder(document, path):
    for step in path[:-1]:
        document = document[step]
    return document


def may_lack(verb, path):
    text = '.'.join('*' if isinstance(step, int) else step for step in path)
    free = '.'.join([*text.split('.')[:-1], '*'])
    allowed = MAY_LACK.get(verb, set())
    return (text in allowed or free in allowed
            or (len(path) > 2 and path[-1] in MAY_LACK['notice']))


def wrong(value):
    """A value that no member of such a type may have."""
    return {'unheard-of': value} if not isinstance(value, dict) else 'unheard-of'


def check_mutations(judge, verb, document, what):
    """How many mutated documents were refused."""
    refused = 0
    for path in paths(document):
        name, where = path[-1], '.'.join(map(str, path))
        changed = copy.deepcopy(document)
        value = holder(changed, path).pop(name)
        if not may_lack(verb, path):
            support.check(not judge.holds(verb, changed), f'{what} may lack {where}')
            refused += 1
        if not may_lack(verb, path) or 'facts' not in path:
            holder(changed, path)[f'{name}_'] = value
            support.check(not judge.holds(verb, changed), f'{what} may have {where}_')
            refused += 1
        changed = copy.deepcopy(document)
        holder(changed, path)[name] = wrong(value)
        support.check(not judge.holds(verb, changed), f'{what}: {where} may be of any type')
        refused += 1
    return refused


def play(programs, folder, started):
    """A store of the invented garden, two April days long; its settings file."""
    broker = support.Broker(folder)
    started.append(broker)
    broker.start()
    config = folder / 'garden.toml'
    demo = (support.ROOT / 'config/demo.toml').read_text()
    demo = re.sub(r'(?m)^address = .*', f'address = "{broker.address}"', demo, 1)
    config.write_text(demo.replace('demo-garden/', f'{folder}/'))
    daemon = support.Daemon(programs, config, '--clock', 'readings')
    started.append(daemon)
    daemon.start()
    daemon.wait_for('connected')
    rimeward = [programs / 'rimeward', '--config', config]
    support.run(*rimeward, 'batch', 'add', 'chilli', '--place', 'glasshouse', '--sown',
                'today', '--count', '24')
    # Until the evening: outlooks are there, and fleece is asked for.
    support.run(programs / 'rimeward-play', '--config', config, '--invented', '--from',
                '2026-04-10T22:00:00Z', '--to', '2026-04-12T18:00:00Z', '--every', '15 min')
    support.wait_until(lambda: json.loads(support.run(*rimeward, 'now', '--json'))['now']
                       >= '2026-04-12T17:45:00Z', 'the readings are stored')
    return config, daemon


# The reading verbs as they are asked, then those that write.
ASKED = ['', 'now', 'tonight', 'week', 'warmth', 'warmth --base 5 --target 40',
         'warmth --place yard --base 5', 'season', 'batch list --all', 'sensors',
         'sensors --heard', 'notices', 'notices --all', 'check', 'chart yard', 'store',
         'export', 'export days']
TOLD = ['cover north-frame 2', 'uncover north-frame', 'open glasshouse', 'shut glasshouse',
        'water pea-bed', 'mute damp --until tomorrow', 'mute dry --place yard --until now',
        'batch add lettuce --place south-frame', 'batch move lettuces pea-bed',
        'batch finish lettuces']


def program_answers(programs, folder, config):
    """(command, verb, document) of the programs themselves."""
    there = set(verbs())

    def answer(command):
        # A doubtful store or a broker in trouble is told in the document too.
        done = subprocess.run([programs / 'rimeward', '--config', config, *command.split(),
                               '--json'], capture_output=True, text=True, timeout=60)
        support.check(done.returncode in (0, 1) and done.stdout,
                      f'rimeward {command} --json: {done.stderr}')
        if command.startswith('export'):
            return [json.loads(line) for line in done.stdout.splitlines()[:50]]
        return json.loads(done.stdout)
    sensor = answer('sensors')['sensors'][0]['sensor']
    open_notices = answer('notices')['open']
    support.check(open_notices, 'the evening has an open notice')
    told = TOLD + [f'done {open_notices[0]["id"]}', f'calibrate {sensor} ice --wait 0s',
                   f'calibrate {sensor} stop',
                   f'calibrate {sensor} offset --channel temperature --by -0.4',
                   f'calibrate {sensor} offset --channel temperature --by -0.4 --yes',
                   f'calibrate {sensor} list']
    data = support.ROOT / 'tests/data/live_readings.csv'
    for command in [*ASKED, f'sensors {sensor}', *told,
                    f'rehearse {data} --place yard', 'tonight']:
        verb = command.split()[0] if command else SUMMARY
        if verb in there or verb == SUMMARY:
            said = answer(command)
            for document in said if isinstance(said, list) else [said]:
                yield f'rimeward {command}', verb, document


def main():
    programs = support.arguments().programs
    if jsonschema is None:
        support.skip('no jsonschema for Python (package python3-jsonschema)')
    all_schemas = schemas()
    for name, schema in all_schemas.items():
        check_schema(name, schema)
    check_lists(all_schemas['common'])
    lacking = [verb for verb in [*verbs(), SUMMARY] if verb not in all_schemas]
    support.equal(lacking, [], 'verbs without a schema')
    unknown = set(all_schemas) - set(verbs()) - SHARED
    support.equal(unknown, set(), 'schemas of no verb')

    judge = Judge(all_schemas)
    refused = count = 0
    for file, verb, document in case_answers():
        judge.require(verb, document, file)
        refused += check_mutations(judge, verb, document, file)
        count += 1
    support.check(count >= 10, 'ten recorded answers')
    with support.scratch() as (folder, started):
        config, daemon = play(programs, folder, started)
        seen = set()
        for command, verb, document in program_answers(programs, folder, config):
            judge.require(verb, document, command)
            if verb not in seen:
                refused += check_mutations(judge, verb, document, command)
            seen.add(verb)
        daemon.stop()
    print(f'{len(all_schemas)} schemas; {count} recorded answers and those of {len(seen)} '
          f'verbs of the programs conform; {refused} mutated ones are refused')


if __name__ == '__main__':
    main()
