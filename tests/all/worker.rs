//! Homes through pipes: the metric rows of a worker are those of an audit, and what does not fit is refused.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::Write;
use std::path::Path;
use std::process::Stdio;
use std::sync::Arc;

use arrow::array::{Array, ArrayRef, AsArray, Float64Array};
use arrow::compute::{cast, concat_batches};
use arrow::datatypes::{DataType, Field, Float64Type, Schema, TimeUnit};
use arrow::ipc::reader::StreamReader;
use arrow::ipc::writer::StreamWriter;
use arrow::record_batch::RecordBatch;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

use crate::program::{SampleAudit, command, run, sample_folder};

/// All rows of a Parquet file.
fn table(path: &Path) -> RecordBatch {
    let builder = ParquetRecordBatchReaderBuilder::try_new(File::open(path).unwrap()).unwrap();
    let schema = Arc::clone(builder.schema());
    let batches: Vec<RecordBatch> = builder.build().unwrap().map(Result::unwrap).collect();
    concat_batches(&schema, &batches).unwrap()
}

/// A table as a stream, in batches that end anywhere.
fn stream(table: &RecordBatch) -> Vec<u8> {
    let mut writer = StreamWriter::try_new(Vec::new(), &table.schema()).unwrap();
    for at in (0..table.num_rows()).step_by(7001) {
        writer.write(&table.slice(at, 7001.min(table.num_rows() - at))).unwrap();
    }
    writer.finish().unwrap();
    writer.into_inner().unwrap()
}

/// What came of a worker for the sample.
struct Worked {
    code: Option<i32>,
    out: Vec<u8>,
    stderr: String,
}

fn work(args: &[&str], input: &[u8]) -> Worked {
    let mut command = command(&sample_folder(), &[&["worker"], args].concat());
    let mut child =
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    // One that is refused may leave before all is read.
    let mut pipe = child.stdin.take().unwrap();
    let input = input.to_vec();
    let writing = std::thread::spawn(move || drop(pipe.write_all(&input)));
    let output = child.wait_with_output().unwrap();
    writing.join().unwrap();
    let stderr = String::from_utf8(output.stderr).unwrap();
    Worked { code: output.status.code(), out: output.stdout, stderr }
}

/// Rows of a metrics table as texts by home, room, period, slice and metric; numbers to the last bit.
fn metric_rows(batches: &[RecordBatch]) -> BTreeMap<Vec<String>, Vec<String>> {
    let cell = |array: &ArrayRef, at: usize| match array.data_type() {
        _ if array.is_null(at) => String::new(),
        DataType::Float64 => array.as_primitive::<Float64Type>().value(at).to_bits().to_string(),
        _ => array.as_string::<i32>().value(at).to_owned(),
    };
    let mut rows = BTreeMap::new();
    for batch in batches {
        for at in 0..batch.num_rows() {
            let cells: Vec<String> = batch.columns().iter().map(|column| cell(column, at)).collect();
            assert!(rows.insert(cells[..6].to_vec(), cells[6..].to_vec()).is_none(), "{cells:?} twice");
        }
    }
    rows
}

#[test]
fn rows_of_a_worker_are_those_of_one_process() {
    let audit = SampleAudit::get();
    let results = audit.folder().to_str().unwrap();
    let worked = work(&["site.toml", "--weather", results], &stream(&table(&audit.path("aligned.parquet"))));
    assert_eq!(worked.code, Some(0), "{}", worked.stderr);
    let reader = StreamReader::try_new(&worked.out[..], None).unwrap();
    let own = metric_rows(&reader.map(Result::unwrap).collect::<Vec<_>>());

    let again = tempfile::tempdir().unwrap();
    let out = again.path().to_str().unwrap();
    let args = ["audit", "site.toml", "--from-aligned", results, "--out", out, "--no-report", "--quiet"];
    assert_eq!(run(&sample_folder(), &args).code, Some(0));
    let mut expected = metric_rows(&[table(&again.path().join("metrics.parquet"))]);
    // What the building says of its homes, and rows without a home: building and weather.
    expected.retain(|key, _| !key[1].is_empty() && !key[5].starts_with("offset_from_building"));
    let of_building = ["offset_from_floor", "offset_from_line", "even_p_adjusted", "uneven_p_adjusted"];
    expected.retain(|key, _| !of_building.contains(&key[5].as_str()));
    assert!(own.len() > 5000, "{}", own.len());
    assert!(own == expected);
}

/// A table in which a column has another type, or is left out.
fn with(table: &RecordBatch, name: &str, to: Option<&DataType>) -> RecordBatch {
    let schema = table.schema();
    let columns = schema.fields().iter().zip(table.columns()).filter_map(|(field, column)| {
        let to = if field.name() == name { to? } else { field.data_type() };
        Some((Field::new(field.name(), to.clone(), true), cast(column, to).unwrap()))
    });
    let (fields, columns): (Vec<Field>, Vec<ArrayRef>) = columns.unzip();
    RecordBatch::try_new(Arc::new(Schema::new(fields)), columns).unwrap()
}

#[test]
fn columns_in_types_of_other_programs_are_taken_where_nothing_is_lost() {
    let audit = SampleAudit::get();
    let table = table(&audit.path("aligned.parquet"));
    let homes = table.column(1).as_string::<i32>();
    let first = (0..table.num_rows()).take_while(|at| homes.value(*at) == homes.value(0)).count();
    let one = table.slice(0, first);
    let args = ["site.toml", "--weather", audit.folder().to_str().unwrap()];
    let expected = work(&args, &stream(&one));
    assert_eq!(expected.code, Some(0), "{}", expected.stderr);
    let zone = |unit, zone: Option<&str>| DataType::Timestamp(unit, zone.map(Into::into));
    for (name, to) in [
        ("time_utc", zone(TimeUnit::Microsecond, Some("America/Chicago"))),
        ("time_utc", zone(TimeUnit::Nanosecond, Some("UTC"))),
        ("temperature_degc", DataType::Float64),
        ("flag", DataType::Int16),
        ("home", DataType::LargeUtf8),
        ("room", DataType::Dictionary(Box::new(DataType::Int32), Box::new(DataType::Utf8))),
    ] {
        let worked = work(&args, &stream(&with(&one, name, Some(&to))));
        assert_eq!(worked.code, Some(0), "{name} {to}: {}", worked.stderr);
        assert!(worked.out == expected.out, "{name} {to}");
    }
    for (name, to, why) in [
        ("time_utc", Some(zone(TimeUnit::Millisecond, None)), "with a time zone"),
        ("time_utc", Some(DataType::Int64), "with a time zone"),
        ("flag", None, "found no column flag"),
        ("accuracy_k", Some(DataType::Utf8), "found accuracy_k as Utf8, expected Float64"),
    ] {
        let worked = work(&args, &stream(&with(&one, name, to.as_ref())));
        assert_eq!(worked.code, Some(2), "{name} {to:?}: {}", worked.stderr);
        assert!(worked.stderr.contains(why), "{name} {to:?}: {}", worked.stderr);
    }
}

#[test]
fn what_would_be_rounded_is_refused() {
    let audit = SampleAudit::get();
    let table = with(
        &table(&audit.path("aligned.parquet")).slice(0, 5),
        "temperature_degc",
        Some(&DataType::Float64),
    );
    let mut columns = table.columns().to_vec();
    columns[4] = Arc::new(Float64Array::from(vec![20.1; 5]));
    let finer = RecordBatch::try_new(table.schema(), columns).unwrap();
    let worked = work(&["site.toml", "--weather", audit.folder().to_str().unwrap()], &stream(&finer));
    assert_eq!(worked.code, Some(2));
    assert!(worked.stderr.contains("which cannot hold all of its values"), "{}", worked.stderr);
}

#[test]
fn what_does_not_fit_is_refused_with_its_place() {
    let audit = SampleAudit::get();
    let table = table(&audit.path("aligned.parquet"));
    let whole = stream(&table);
    let weather = ["site.toml", "--weather", audit.folder().to_str().unwrap()];
    let twice = concat_batches(&table.schema(), &[table.clone(), table.slice(0, 3)]).unwrap();
    let homes = table.column(1).as_string::<i32>();
    let name = homes.value(0).to_owned();
    for (args, input, why) in [
        (&weather[..1], whole.clone(), "--weather: the site file names an outdoor series"),
        (&weather, Vec::new(), "standard input: the table cannot be read"),
        (&weather, b"home,room\n1A,living\n".to_vec(), "standard input: "),
        (&weather, stream(&twice), &format!("found home {name} again, expected the rows of a home together")),
    ] {
        let worked = work(args, &input);
        assert_eq!(worked.code, Some(2), "{why}: {}", worked.stderr);
        assert!(worked.stderr.contains(why) && worked.stderr.contains("hint: "), "{why}: {}", worked.stderr);
    }
    // Cut off: what is written has no end mark either.
    let cut = work(&weather, &whole[..whole.len() * 2 / 3]);
    assert_eq!(cut.code, Some(2), "{}", cut.stderr);
    assert!(!cut.out.is_empty() && !cut.out.ends_with(&[0xff, 0xff, 0xff, 0xff, 0, 0, 0, 0]));
}

/// Options and commands that the job for many machines uses are there.
#[test]
fn the_job_for_many_machines_uses_what_there_is() {
    let folder = tempfile::tempdir().unwrap();
    let job = run(folder.path(), &["portfolio", "--spark-job"]);
    assert_eq!((job.code, job.stderr.as_str()), (Some(0), ""));
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/run/spark_job.py");
    assert_eq!(job.stdout, std::fs::read_to_string(kept).unwrap());
    for (command, options) in [
        ("audit", &["--out", "--no-report", "--quiet", "--threads"][..]),
        ("worker", &["--weather"]),
        ("portfolio", &["--out"]),
    ] {
        let help = run(folder.path(), &[command, "--help"]).stdout;
        for option in options {
            assert!(help.contains(option) && job.stdout.contains(option), "{command} {option}");
        }
        assert!(job.stdout.contains(&format!("\"{command}\"")), "{command}");
    }
    // Columns of the rows that it hands back are those of the table.
    let declared: Vec<&str> = evenrooms::tables::METRICS.columns.iter().map(|column| column.name).collect();
    let schema = job.stdout.split("def metrics_schema").nth(1).unwrap().split("return").next().unwrap();
    let told = schema.split("(\"").skip(1).filter_map(|rest| rest.split('"').next());
    let told: Vec<&str> = told.filter(|name| *name != "failed").collect();
    assert_eq!(told, declared);
    assert_eq!(run(folder.path(), &["portfolio"]).code, Some(2));
}
